/* A visit over a poor link: what is typed stays on this phone until it has arrived, and a tap that did not get through says
   so. Every page works without this script. */

const PREFIX = "visit:";
const GONE = "No signal: that was not saved. Tap again when there is.";
const words = document.querySelector("[data-link-words]");

function store() {
  try {
    return window.localStorage;
  } catch {
    return null;
  }
}

/* Fields worth keeping: no files, no digests of what was shown, and never a tick that is somebody's word. */
function fieldsOf(form) {
  return [...form.elements].filter((one) => one.name && one.type !== "file" && one.type !== "submit" && !("notKept" in one.dataset));
}

function read(form) {
  const values = {};
  for (const one of fieldsOf(form)) {
    if (one.type === "checkbox" || one.type === "radio") values[`${one.name}=${one.value}`] = one.checked;
    else values[one.name] = one.value;
  }
  return values;
}

function put(form, values) {
  for (const one of fieldsOf(form)) {
    const isTick = one.type === "checkbox" || one.type === "radio";
    const kept = values[isTick ? `${one.name}=${one.value}` : one.name];
    if (kept === undefined) continue;
    if (isTick) one.checked = kept;
    else one.value = kept;
  }
  for (const more of form.querySelectorAll("details")) {
    if ([...more.querySelectorAll("input, textarea")].some((one) => one.type !== "hidden" && one.value.trim())) more.open = true;
  }
  form.dispatchEvent(new Event("draft:put"));
}

function keepDraft(form) {
  const name = PREFIX + form.dataset.draft;
  const kept = store()?.getItem(name);
  // A page that the server showed again has all that was typed, and is newer than the draft.
  if (kept && !form.querySelector("#error-summary")) put(form, JSON.parse(kept));
  form.addEventListener("input", () => save(name, form));
  form.addEventListener("change", () => save(name, form));
  form.addEventListener("submit", () => {
    save(name, form);
    store()?.setItem(`${PREFIX}sent`, JSON.stringify({ name, page: location.pathname }));
  });
}

function save(name, form) {
  try {
    store()?.setItem(name, JSON.stringify(read(form)));
  } catch {
    // A full phone keeps no draft; the page still has what was typed.
  }
}

/* The server took the form: it led on to another page, or to this one without its errors. */
function forgetSent() {
  const sent = JSON.parse(store()?.getItem(`${PREFIX}sent`) ?? "null");
  if (!sent || document.querySelector("#error-summary") || location.pathname === sent.page) return;
  store().removeItem(sent.name);
  store().removeItem(`${PREFIX}sent`);
}

/* After the visit nothing of what was typed or drawn stays on this phone. */
function forgetVisit(visit) {
  const kept = store();
  for (const name of Object.keys(kept ?? {})) {
    if (name.startsWith(`${PREFIX}${visit}-`) || name === `${PREFIX}sent`) kept.removeItem(name);
  }
}

function tell(text) {
  if (!words) return;
  words.hidden = !text;
  words.textContent = text;
}

const over = document.querySelector("[data-visit-over]");
if (over) forgetVisit(over.dataset.visitOver);
else forgetSent();
for (const form of document.querySelectorAll("form[data-draft]")) keepDraft(form);
document.getElementById("error-summary")?.focus();
for (const name of ["htmx:sendError", "htmx:timeout", "htmx:responseError"]) document.addEventListener(name, () => tell(GONE));
document.addEventListener("htmx:afterSwap", () => tell(""));
