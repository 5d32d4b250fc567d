/* A layup as it goes: a tap for a ply, its photo and the photos of each moment are kept on this phone first and then sent.
   While resin is wet the page is kept too, so that it opens without signal and shows what was tapped since. */

import { here, itemsHere, say, whenWords } from "./here.js";
import { drawOnChange } from "./outbox/changes.js";
import { keepEvent, keepPhoto } from "./outbox/outbox.js";
import { answerTo } from "./tap-answer.js";

const page = document.querySelector("[data-layup]");
const wet = page.querySelector("[data-wet]");
const { layup, label, place } = page.dataset;
const rows = [...(wet?.querySelectorAll("[data-ply]") ?? [])];

/* Taps, photos and mixes of this layup that the server may not have yet. */
async function kept() {
  const items = (await itemsHere()).filter((item) => item.state !== "undone" && item.state !== "refused");
  const mine = (item) => item.fields.layup === layup || item.fields.record === layup || item.pairs?.some(([name, value]) => name === "used_in" && value === layup);
  return items.filter((item) => mine(item) && item.state !== "sent");
}

async function draw() {
  if (!wet) return;
  const items = await kept();
  for (const row of rows) {
    const tap = items.find((item) => item.kind === "ply_laid" && item.fields.ply === row.dataset.ply);
    if (tap && !row.dataset.laid) showLaid(row, tap.happened, true);
  }
  const next = rows.find((row) => !row.dataset.laid);
  for (const row of rows) row.querySelector("[data-ply-photo]").hidden = row !== next;
  const laid = rows.filter((row) => row.dataset.laid).length;
  say(wet.querySelector("[data-wet-count]"), `${laid} of ${rows.length} laid`);
  say(wet.querySelector("[data-wet-said]"), waitingWords(items));
}

function waitingWords(items) {
  const count = (kind) => items.filter((item) => item.kind === kind).length;
  const words = [
    [count("ply_laid"), "tap", "taps"],
    [count("shot"), "photo", "photos"],
    [count("mix"), "mix", "mixes"],
  ].flatMap(([number, one, many]) => (number ? [`${number} ${number === 1 ? one : many}`] : []));
  return words.length ? `Kept on this phone, not sent yet: ${words.join(", ")}.` : "";
}

function showLaid(row, at, waits) {
  row.dataset.laid = String(at);
  row.querySelector("[data-ply-acts]").hidden = true;
  const state = row.querySelector("[data-ply-state]");
  state.hidden = false;
  row.querySelector("[data-ply-words]").textContent = `Laid ${whenWords(at)}${waits ? ", kept here" : ""}`;
}

async function tap(row) {
  if (row.dataset.laid) return;
  const { ply } = row.dataset;
  const item = await keepEvent({ ...here, kind: "ply_laid", fields: { layup, ply }, label: `${label}: ply ${ply} laid` });
  showLaid(row, item.happened, true);
  await draw();
  rows.find((one) => !one.dataset.laid)?.querySelector("button")?.focus({ preventScroll: true });
  const answered = await answerTo(item);
  if (answered?.state === "sent") showLaid(row, item.happened, false);
  if (answered?.state === "refused") say(wet.querySelector("[data-wet-said]"), answered.trouble);
}

/* A photo goes with two requests: its bytes, and where it belongs, which waits for them. */
async function take(input, moment, ply = "") {
  const said = ply ? wet.querySelector("[data-wet-said]") : input.closest("form").querySelector("[data-moment-said]");
  const words = ply ? `${label}, ply ${ply}` : `${label}, ${moment}`;
  const files = [...input.files];
  input.value = "";
  for (const file of files) {
    try {
      const { item } = await keepPhoto({ ...here, file, fields: { place }, label: `Photo of ${words}` });
      const about = { photo_request: item.id, record_kind: "layup", record: layup, moment, ply };
      await keepEvent({ ...here, kind: "shot", fields: about, label: `${words}: where its photo belongs` });
    } catch (trouble) {
      say(said, trouble.message);
      return;
    }
  }
  if (!ply) say(said, "Kept on this phone. It stands for the layup once it is sent.");
  await draw();
}

for (const node of page.querySelectorAll("[data-without-script]")) node.hidden = true;
for (const node of page.querySelectorAll("[data-moment-photo]")) node.hidden = false;
page.addEventListener("submit", (event) => {
  if (!("plyTap" in event.target.dataset)) return;
  event.preventDefault();
  tap(event.target.closest("[data-ply]"));
});
page.addEventListener("change", (event) => {
  if (!event.target.matches("[data-take]")) return;
  const row = event.target.closest("[data-ply]");
  take(event.target, row ? "wet" : event.target.dataset.moment, row?.dataset.ply);
});
document.addEventListener("layup:kept", draw);
drawOnChange(draw);
if (wet) navigator.serviceWorker?.ready.then(({ active }) => active?.postMessage({ keep: [location.pathname] }));
await draw();
