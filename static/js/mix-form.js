/* A mix being weighed: the verdict on its ratio stands on the page while the amounts are typed, before the pot is spread. On
   the page of a layup the mix is kept on this phone first and then sent, and its clock starts with the tap. */

import { here, say } from "./here.js";
import { judgeMix, potHint } from "./mix-ratio.js";
import { newId } from "./outbox/id.js";
import { keepEvent, undo } from "./outbox/outbox.js";
import { allowSound, startPot } from "./pots.js";
import { answerTo } from "./tap-answer.js";

const OWN = new Set(["csrfmiddlewaretoken", "request_id"]);

for (const form of document.querySelectorAll("[data-mix-form]")) {
  form.addEventListener("input", () => show(form));
  form.addEventListener("change", () => show(form));
  if ("mixHere" in form.dataset) form.addEventListener("submit", (event) => keep(event, form));
  show(form);
}

function value(form, name) {
  return form.elements[name]?.value ?? "";
}

function scaleOf(form) {
  const told = document.getElementById("mix-scales");
  return told ? JSON.parse(told.textContent)[value(form, "scale")] : undefined;
}

/* How long the pot lasts at its own temperature: a hint beside the figure of the sheet, which the clock goes by. */
function showHint(form) {
  const field = form.elements.pot_temp;
  const box = form.querySelector("[data-pot-hint]");
  const meant = /In °F/.test(field?.closest(".field").textContent ?? "") ? "F" : "C";
  const minutes = field ? potHint(value(form, "pot_life_min"), field.value, meant) : null;
  say(box, minutes === null ? "" : `About ${minutes} min at that temperature, if the sheet's ${value(form, "pot_life_min")} min are for 25 °C. A full cup is much faster than a thin film; the maker's sheet wins.`);
}

function show(form) {
  showHint(form);
  const box = form.querySelector("[data-mix-verdict]");
  const own = value(form, "window_percent").trim();
  const judged = judgeMix({
    by: value(form, "ratio_by"),
    partsResin: value(form, "parts_resin"),
    partsHardener: value(form, "parts_hardener"),
    window: own || form.dataset.usualWindow || "3",
    resin: value(form, "resin"),
    hardener: value(form, "hardener"),
    scale: scaleOf(form),
  });
  box.hidden = judged.state === "open";
  box.dataset.verdict = judged.state;
  if (box.hidden) return;
  const off = `${judged.per100} per 100 of resin, ${judged.deviation} % off`;
  say(box.querySelector("[data-mix-words]"), judged.state === "good" ? `Good: ${off}` : `Not good: ${off}. Do not spread it.`);
  say(box.querySelector("[data-mix-more]"), moreWords(form, judged, own));
}

function moreWords(form, { fix, worst }, own) {
  const unit = value(form, "ratio_by") === "volume" ? "mL" : "g";
  const words = [];
  if (fix) words.push(`Add ${fix.add} ${unit} of ${fix.of}, stir, and weigh again.`);
  if (worst) words.push(`The scale may be off: ${worst.low} to ${worst.high} per 100 at worst${worst.inside ? "" : ", which leaves the window"}.`);
  if (!own) words.push(`Within ${form.dataset.usualWindow ?? "3"} % (${form.dataset.usualSource ?? "built in"}).`);
  words.push("The resin maker's own ratio, window and pot life win.");
  return words.join(" ");
}

async function keep(event, form) {
  event.preventDefault();
  if (form.getAttribute("aria-busy")) return;
  form.setAttribute("aria-busy", "true");
  allowSound();
  const pairs = [...new FormData(form)].filter(([name]) => !OWN.has(name)).map(([name, said]) => [name, String(said)]);
  const id = form.elements.request_id.value;
  const label = `Mix, ${value(form, "resin")} to ${value(form, "hardener")}`;
  const item = await keepEvent({ ...here, id, kind: "mix", pairs, label });
  const minutes = Number(value(form, "pot_life_min").replace(",", "."));
  if (minutes > 0) startPot({ id, label, mixed: item.happened, minutes });
  const answered = await answerTo(item);
  form.removeAttribute("aria-busy");
  if (answered?.state === "sent") return location.reload();
  if (answered?.state === "refused") {
    // The page says field by field what is wrong.
    await undo(item.id);
    form.submit();
    return;
  }
  form.elements.request_id.value = newId();
  form.elements.resin.value = form.elements.hardener.value = "";
  show(form);
  document.dispatchEvent(new Event("layup:kept"));
}
