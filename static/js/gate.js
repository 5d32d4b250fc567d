/* At a gate a photo that was taken is sent at once; without this script the link beside it leads to a page that does the
   same. It is kept on this phone first: if it does not reach its item it arrives as a photo of the assembly, to be chosen. */

import { keepPhoto } from "./outbox/outbox.js";
import { look } from "./outbox/sender.js";
import { tellNow } from "./telling.js";

const PATIENCE = 2_500;
const HOLD = 60_000;
const { project, person, captured: url } = document.body.dataset;

for (const form of document.querySelectorAll("form[data-send-on-choice]")) {
  const input = form.querySelector("input[type=file]");
  form.hidden = false;
  form.parentElement.querySelector(":scope > [data-without-script]")?.remove();
  input.addEventListener("change", () => input.files.length && send(form, input));
}

async function send(form, input) {
  const [file] = input.files;
  const label = form.querySelector("label");
  label.setAttribute("aria-busy", "true");
  const { outcome } = await look(url, PATIENCE);
  const isHere = outcome !== "unreachable" && outcome !== "signed-out";
  const words = `Photo for ${form.dataset.about}`;
  const kept = await keep({ file, label: words, fields: { place: form.dataset.place }, holdUntil: isHere ? Date.now() + HOLD : 0 });
  if (isHere) {
    // An upload does not carry the file's own time, which is all there is when the camera wrote none into the photo.
    form.elements.file_time.value = String(file.lastModified);
    form.submit();
    return;
  }
  label.removeAttribute("aria-busy");
  input.value = "";
  tellNow(kept ? `No signal. The photo is kept on this phone. When it is sent, choose it here for ${form.dataset.about}.` : "No signal, and the photo could not be kept on this phone. Take it again where there is signal.");
}

async function keep(given) {
  try {
    return (await keepPhoto({ project, person, url, ...given })).kept;
  } catch {
    return false;
  }
}
