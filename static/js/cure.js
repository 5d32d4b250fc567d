/* A cure run that goes on: "heat off" is kept on this phone first and then sent, with the time of the tap. The page is kept
   too, so that it opens without signal. */

import { freshWhenSent, willWait } from "./fresh-page.js";
import { here, itemsHere, say } from "./here.js";
import { keepThisPage } from "./keep-page.js";
import { isWaiting, keptWords, refusedWords } from "./kept-words.js";
import { drawOnChange } from "./outbox/changes.js";
import { keepEvent } from "./outbox/outbox.js";
import "./soak-alarm.js";
import { answerTo } from "./tap-answer.js";

const page = document.querySelector("[data-cure]");
const { cure, request, label } = page.dataset;
const form = page.querySelector("form[data-heat-off]");
const soak = document.getElementById("soak-alarm");

let busy = false;

async function draw() {
  const stops = (await itemsHere()).filter((item) => item.kind === "cure_stop" && (item.fields.run === cure || item.fields.run === request));
  const stop = stops.findLast((item) => isWaiting(item) || (item.state === "sent" && busy));
  const refused = stops.findLast((item) => item.state === "refused");
  if (form) drawStop(stop);
  page.querySelector("[data-refused]").hidden = !refused;
  if (refused) say(page.querySelector("[data-refused-words]"), refusedWords(refused, "Heat off"));
  freshWhenSent(stops, { busy });
}

function drawStop(stop) {
  form.hidden = Boolean(stop);
  if (soak) soak.hidden = Boolean(stop);
  page.querySelector("[data-off-state]").hidden = Boolean(stop);
  page.querySelector("[data-off-kept]").hidden = !stop;
  if (stop) page.querySelector("[data-off-words]").textContent = keptWords(stop);
}

form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  if (busy) return;
  busy = true;
  const item = await keepEvent({ ...here, kind: "cure_stop", fields: { run: cure }, label: `${label}: heat off` });
  willWait();
  await draw();
  await answerTo(item);
  busy = false;
  await draw();
});
drawOnChange(draw);
if (form) keepThisPage(page.dataset.pages.split(" "));
await draw();
