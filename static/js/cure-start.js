/* The start of a cure run: kept on this phone first and then sent; the run begins with the tap. */

import { here } from "./here.js";
import "./cures-kept.js";
import { newId } from "./outbox/id.js";
import { keepEvent, undo } from "./outbox/outbox.js";
import { answerTo } from "./tap-answer.js";
import { tellNext } from "./telling.js";

const OWN = new Set(["csrfmiddlewaretoken", "request_id"]);
const form = document.querySelector("[data-cure-form]");

/* A new form may be an old page that is kept to be opened without signal: then two runs would share one id, and what it was
   asked for would be what somebody asked for then. */
function makeNew() {
  form.elements.request_id.value = newId();
  const asked = location.search.slice(1);
  if (form.dataset.asked === asked) return;
  const wanted = new URLSearchParams(asked);
  for (const name of ["assembly", "part"]) form.elements[name].value = wanted.get(name) ?? "";
  for (const box of form.querySelectorAll("[name=cured]")) box.checked = wanted.getAll("in").includes(box.value);
}

function name() {
  const where = form.elements.assembly.selectedOptions[0]?.text.trim() ?? "";
  return form.elements.title.value.trim() || `Cure run, ${where}`;
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  if (form.getAttribute("aria-busy")) return;
  form.setAttribute("aria-busy", "true");
  const pairs = [...new FormData(form)].filter(([field]) => !OWN.has(field)).map(([field, said]) => [field, String(said)]);
  const { like = "", soakMin = "" } = form.dataset;
  // Of a run that was written down later no clock is wanted.
  const soak = form.elements.like_last?.checked ? soakMin : "";
  const id = form.elements.request_id.value;
  const item = await keepEvent({ ...here, id, kind: "cure_begun", pairs: [...pairs, ["like", like]], fields: { name: name(), soak_min: soak }, label: `${name()}: heat on` });
  const answered = await answerTo(item);
  form.removeAttribute("aria-busy");
  if (answered?.state === "sent") {
    tellNext(`${answered.answer.label} is kept.`);
    location.assign(answered.answer.page);
  } else if (answered?.state === "refused") {
    // The page says field by field what is wrong.
    await undo(item.id);
    form.submit();
  } else {
    form.hidden = true;
    const card = document.querySelector(`[data-request="${id}"]`);
    card?.scrollIntoView({ block: "nearest" });
    card?.querySelector("[data-heat-off]")?.focus({ preventScroll: true });
  }
});

if (!("answered" in form.dataset)) makeNew();
