/* Cure runs that were started on this phone and that the server may not have yet: each with a clock since the heat went on,
   the alarm of its soak, and "heat off", which may be tapped before the start has been sent. */

import { freshWhenSent } from "./fresh-page.js";
import { here, itemsHere, say, showMark, whenWords } from "./here.js";
import { keepThisPage } from "./keep-page.js";
import { keptWords, refusedWords } from "./kept-words.js";
import { drawOnChange } from "./outbox/changes.js";
import { keepEvent } from "./outbox/outbox.js";
import { runSoak } from "./soak-alarm.js";

const TICK = 1000;
const section = document.querySelector("[data-cures-kept]");
const template = document.querySelector("[data-cure-template]");
const cards = new Map();

/* The runs begun here that are not there yet, or whose page was not opened since, each with its stop. */
async function runs() {
  const items = await itemsHere();
  const stopOf = (id) => items.findLast((item) => item.kind === "cure_stop" && item.fields.run === id && item.state !== "undone");
  const begun = items.filter((item) => item.kind === "cure_begun" && item.state !== "undone");
  const all = begun.map((item) => ({ item, stop: stopOf(item.id) }));
  return all.filter(({ item, stop }) => item.state !== "sent" || cards.has(item.id) || (stop && stop.state !== "sent"));
}

async function draw() {
  const known = await runs();
  for (const [id, card] of cards) {
    if (known.some(({ item }) => item.id === id)) continue;
    card.remove();
    cards.delete(id);
  }
  for (const run of known) drawCard(cards.get(run.item.id) ?? made(run.item), run);
  section.hidden = !known.length;
  // The list of the server names them now.
  if ("reloads" in section.dataset) freshWhenSent(known.flatMap(({ item, stop }) => (stop ? [item, stop] : [item])));
}

function made(item) {
  const card = template.content.firstElementChild.cloneNode(true);
  card.dataset.request = item.id;
  cards.set(item.id, card);
  section.querySelector("[data-cures-list]").append(card);
  card.querySelector("[data-heat-off]").addEventListener("click", () => heatOff(item));
  const soak = card.querySelector("[data-soak]");
  if (item.fields.soak_min) {
    Object.assign(soak.dataset, { run: item.id, minutes: item.fields.soak_min });
    runSoak(soak);
  } else soak.remove();
  return card;
}

function typed({ pairs }, name) {
  return pairs.find(([field]) => field === name)?.[1] ?? "";
}

function drawCard(card, { item, stop }) {
  const isRefused = item.state === "refused";
  const isOff = Boolean(stop) || Boolean(typed(item, "stopped_at"));
  const on = typed(item, "started_at");
  const words = (name, text) => say(card.querySelector(`[data-${name}]`), text);
  card.dataset.since = on ? "" : String(item.happened);
  card.dataset.until = stop ? String(stop.happened) : "";
  showMark(card, isRefused ? "refused" : "curing");
  words("name", item.fields.name);
  words("since", on ? `heat on ${on.replace("T", ", ").slice(0, 17)}` : `heat on ${whenWords(item.happened)}`);
  words("words", isRefused ? refusedWords(item, "Not taken") : item.state === "sent" ? `On the server as ${item.answer?.label ?? "a run"}.` : `${keptWords(item)}.`);
  words("off-words", stop ? `Heat off: ${stop.state === "refused" ? refusedWords(stop, "not taken") : stop.state === "sent" ? whenWords(stop.happened) : keptWords(stop)}.` : "");
  card.querySelector("[data-heat-off]").hidden = isOff || isRefused;
  const soak = card.querySelector("[data-soak]");
  if (soak) soak.hidden = isOff || isRefused;
  card.querySelector("[data-kept-link]").hidden = !isRefused && stop?.state !== "refused";
  const link = card.querySelector("[data-open]");
  link.hidden = item.state !== "sent" || !item.answer?.page;
  if (!link.hidden) link.href = item.answer.page;
  tick(card);
}

function tick(card) {
  const { since, until } = card.dataset;
  card.querySelector(".elapsed").hidden = !since;
  if (since) card.querySelector("[data-elapsed]").textContent = clock((Number(until) || Date.now()) - Number(since));
}

function clock(ms) {
  const seconds = Math.max(0, Math.floor(ms / 1000));
  const pair = (value) => String(value).padStart(2, "0");
  return `${Math.floor(seconds / 3600)}:${pair(Math.floor(seconds / 60) % 60)}:${pair(seconds % 60)}`;
}

async function heatOff({ id, fields }) {
  await keepEvent({ ...here, kind: "cure_stop", fields: { run: id }, label: `${fields.name}: heat off` });
  await draw();
}

drawOnChange(draw);
setInterval(() => cards.forEach(tick), TICK);
keepThisPage(section.dataset.pages.split(" "));
await draw();
