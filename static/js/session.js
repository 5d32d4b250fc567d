/* The session form keeps what was typed on this device until the server has it, so that a reload or a dead battery loses nothing. */

const form = document.querySelector("form[data-session-form]");
const place = form && `session-draft:${location.pathname}`;
const LEFT_OUT = new Set(["csrfmiddlewaretoken", "new_photos", "seen"]);

function collect() {
  const values = [...new FormData(form)].filter(([name, value]) => !LEFT_OUT.has(name) && typeof value === "string");
  localStorage.setItem(place, JSON.stringify(values));
}

function put(values) {
  const byName = Map.groupBy ? Map.groupBy(values, ([name]) => name) : group(values);
  for (const field of form.elements) {
    if (!field.name || LEFT_OUT.has(field.name) || field.type === "file") continue;
    const given = (byName.get(field.name) ?? []).map(([, value]) => value);
    if (field.type === "checkbox" || field.type === "radio") field.checked = given.includes(field.value);
    else if (given.length && field.name !== "photos") field.value = given[0];
  }
}

function group(values) {
  const found = new Map();
  for (const pair of values) found.set(pair[0], [...(found.get(pair[0]) ?? []), pair]);
  return found;
}

/* A draft goes when the server shows the session that came of it: both carry the same request id. */
function forget(request) {
  for (const name of Object.keys(localStorage).filter((key) => key.startsWith("session-draft:"))) {
    const kept = JSON.parse(localStorage.getItem(name));
    if (kept.some(([field, value]) => field === "request_id" && value === request)) localStorage.removeItem(name);
  }
}

/* A page that came back with errors carries what was typed already; only a fresh one takes up the draft. */
if (form) {
  const draft = localStorage.getItem(place);
  const answered = document.getElementById("error-summary");
  if (draft && !answered) put(JSON.parse(draft));
  form.addEventListener("input", collect);
}
for (const shown of document.querySelectorAll("[data-kept-request]")) forget(shown.dataset.keptRequest);
