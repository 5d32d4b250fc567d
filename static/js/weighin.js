/* The sum under a weighing while it is typed. Without this file the page works it out after keeping. */

import { sum, words } from "./weighin-sum.js";

const form = document.querySelector("[data-weighin]");
const shown = { mass: form.dataset.mass, length: form.dataset.length };

function value(row, name) {
  return row.querySelector(`[name^="${name}_"]`)?.value ?? "";
}

function lines() {
  const scales = [...form.querySelectorAll('[data-row="scale"]')];
  const fluids = [...form.querySelectorAll('[data-row="fluid"]')];
  return [
    ...scales.map((row) => ({ reading: value(row, "reading"), tare: value(row, "tare"), arm: value(row, "arm") })),
    ...fluids.map((row) => ({ reading: value(row, "weight"), arm: value(row, "farm"), sign: value(row, "adds") === "on" ? 1 : -1 })),
  ];
}

function tell() {
  form.querySelector("[data-sum]").textContent = words(sum(lines(), shown), shown);
}

form.addEventListener("input", tell);
form.addEventListener("change", tell);
tell();
