/* A bond step by step: each tap is kept on this phone first and then sent, and the clock for the adhesive goes on from it.
   The page is kept too, so that it opens without signal and shows what was tapped since. */

import { countFrom } from "./bond-window.js";
import { freshWhenSent, willWait } from "./fresh-page.js";
import { here, itemsHere, knownStatus, say, whenWords } from "./here.js";
import { keepThisPage } from "./keep-page.js";
import { isWaiting, keptWords, refusedWords } from "./kept-words.js";
import { drawOnChange } from "./outbox/changes.js";
import { keepEvent } from "./outbox/outbox.js";
import { answerTo } from "./tap-answer.js";

const WIPED = "wiped_at";
const ON = "on_at";
const SQUEEZE = "squeeze_out";
const page = document.querySelector("[data-bond]");
const { bond, label, made } = page.dataset;
const rows = [...page.querySelectorAll("[data-step]")];
const rowOf = (step) => rows.find((row) => row.dataset.step === step);
const stepOf = (item) => (item.kind === "bond_squeeze" ? SQUEEZE : item.fields.step);
const wordsOf = (item) => rowOf(stepOf(item))?.dataset.words ?? label;

let ahead = 0;
let busy = 0;

async function draw() {
  const items = (await itemsHere()).filter((item) => item.kind.startsWith("bond_") && item.fields.bond === bond);
  const taps = new Map();
  for (const item of items.filter(counts)) taps.set(stepOf(item), item);
  const told = (step) => taps.get(step) ?? rowOf(step)?.dataset.told;
  const next = rows.find((row) => !told(row.dataset.step));
  for (const row of rows) drawRow(row, taps.get(row.dataset.step), { isNext: row === next, isOn: Boolean(told(ON)) });
  drawWindow(taps);
  drawRefused(items.findLast((item) => item.state === "refused"));
  page.querySelector("[data-verdict-waits]").hidden = !items.some(isWaiting);
  freshWhenSent(items, { busy: busy > 0, isNews: counts });
}

/* What waits, and what was sent since this page was made: it may be an old page that is kept to be opened without signal. */
function counts(item) {
  return isWaiting(item) || (item.state === "sent" && item.sent_at - ahead > Number(made));
}

function drawRow(row, tap, { isNext, isOn }) {
  const isDone = Boolean(tap ?? row.dataset.told);
  row.querySelector("[data-step-state]").hidden = Boolean(tap);
  row.querySelector("[data-step-kept]").hidden = !tap;
  if (tap) row.querySelector("[data-step-words]").textContent = tapWords(tap);
  const form = row.querySelector("form[data-tap]");
  if (!form) return;
  const isSqueeze = row.dataset.step === SQUEEZE;
  form.hidden = isSqueeze ? !isOn : isDone && (row.dataset.step !== WIPED || isOn);
  if (isSqueeze) return;
  const button = form.querySelector("button");
  const words = isDone ? "Wiped again now" : "Done now";
  button.textContent = words;
  button.setAttribute("aria-label", `${words}: ${row.dataset.words}`);
  button.classList.toggle("main", isNext);
}

function tapWords(tap) {
  const seen = { yes: "Yes. ", no: "No. " }[tap.fields[SQUEEZE]] ?? "";
  return seen + (isWaiting(tap) ? keptWords(tap) : `Sent, ${whenWords(tap.happened)}`);
}

function drawWindow(taps) {
  const wiped = taps.get(WIPED)?.happened ?? (Number(rowOf(WIPED).dataset.told) + ahead || null);
  countFrom(taps.has(ON) || rowOf(ON).dataset.told ? null : wiped);
}

function drawRefused(item) {
  page.querySelector("[data-refused]").hidden = !item;
  if (item) say(page.querySelector("[data-refused-words]"), refusedWords(item, wordsOf(item)));
}

async function tap(form, button) {
  const { step, words } = form.closest("[data-step]").dataset;
  const isSqueeze = step === SQUEEZE;
  const fields = isSqueeze ? { bond, squeeze_out: button.value } : { bond, step };
  busy += 1;
  const kind = isSqueeze ? "bond_squeeze" : "bond_step";
  const item = await keepEvent({ ...here, kind, fields, label: `${label}: ${words.toLowerCase()}` });
  willWait();
  await draw();
  if (form.hidden) rows.find((row) => !row.querySelector("form[data-tap]")?.hidden)?.querySelector("form[data-tap] button")?.focus({ preventScroll: true });
  await answerTo(item);
  busy -= 1;
  await draw();
}

page.addEventListener("submit", (event) => {
  if (!("tap" in event.target.dataset)) return;
  event.preventDefault();
  tap(event.target, event.submitter);
});
drawOnChange(draw);
const status = await knownStatus();
if (status) ahead = status.at - status.now;
if ("open" in page.dataset) keepThisPage();
await draw();
