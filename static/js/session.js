/* The session form keeps what was typed on this device until the server has it, so that a reload or a dead battery loses
   nothing. A draft is { at, seen, values }: when, over which version of the session, and the fields as they were. */

import { photosOfPage, release } from "./attach.js";
import { openStore } from "./outbox/store.js";
import { newId } from "./outbox/id.js";
import { Saving } from "./saving.js";

const PREFIX = "session-draft:";
const HOUR = 3600 * 1000;
const KEPT_MS = 7 * 24 * HOUR;
const OLD = HOUR / 6;
const WHEN = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit" });
const NOT_SENT = new Set(["csrfmiddlewaretoken", "new_photos", "remove_photos"]);
const LEFT_OUT = new Set(["csrfmiddlewaretoken", "new_photos", "remove_photos", "seen", "again"]);

/* Null where the browser keeps nothing (private windows, blocked storage): the form works without. */
function storage() {
  try {
    return window.localStorage;
  } catch {
    return null;
  }
}

const kept = storage();

/* The draft by this name; null when there is none, it cannot be read, or it is too old. */
function read(name) {
  try {
    const draft = JSON.parse(kept.getItem(name));
    return Array.isArray(draft?.values) && Date.now() - draft.at < KEPT_MS ? draft : null;
  } catch {
    return null;
  }
}

function drafts() {
  return kept ? Object.keys(kept).filter((name) => name.startsWith(PREFIX)) : [];
}

/* A draft goes when the server shows the session that came of it: both carry the same request id. */
function forget(request) {
  for (const name of drafts()) {
    if (read(name).values.some(([field, value]) => field === "request_id" && value === request)) kept.removeItem(name);
  }
}

class Draft {
  constructor(form) {
    this.form = form;
    this.name = PREFIX + location.pathname;
    this.notice = form.querySelector("[data-draft]");
    this.list = form.querySelector("[data-attach-list]");
    this.offer();
    form.addEventListener("input", () => this.collect());
    new MutationObserver(() => this.collect()).observe(this.list, { childList: true, subtree: true });
  }

  get seen() {
    return this.form.elements.seen.value;
  }

  collect() {
    if (this.done) return;
    const values = [...new FormData(this.form)].filter(([name, value]) => !LEFT_OUT.has(name) && typeof value === "string");
    try {
      kept?.setItem(this.name, JSON.stringify({ at: Date.now(), seen: this.seen, values }));
    } catch {
      // The device is full. What was kept before is older than what is typed, and would come back in its place.
      kept.removeItem(this.name);
    }
  }

  /* A page that came back with errors carries what was typed already; only a fresh one takes up the draft. Where the
     session was changed since, the draft waits for a word. */
  offer() {
    if ("answered" in this.form.dataset) return this.collect();
    const draft = read(this.name);
    if (!draft) return;
    this.say(draft);
    if (draft.seen === this.seen) this.put(draft);
  }

  say(draft) {
    const changed = draft.seen !== this.seen;
    const take = this.notice.querySelector("[data-draft-take]");
    this.notice.querySelector("[data-draft-when]").textContent = WHEN.format(draft.at);
    this.notice.querySelector("[data-draft-changed]").hidden = !changed;
    this.notice.querySelector("[data-draft-drop]").addEventListener("click", () => this.drop());
    take.hidden = !changed;
    take.addEventListener("click", () => {
      this.put(draft);
      take.hidden = true;
    });
    this.notice.hidden = false;
  }

  async drop() {
    kept.removeItem(this.name);
    await release((await photosOfPage()).map((item) => item.id));
    location.reload();
  }

  /* The outbox has it now. */
  forget() {
    this.done = true;
    kept?.removeItem(this.name);
  }

  put({ values }) {
    const given = (name) => values.filter(([field]) => field === name).map(([, value]) => value);
    for (const field of this.form.elements) {
      if (!field.name || field.name === "photos" || LEFT_OUT.has(field.name) || field.type === "file") continue;
      const wanted = given(field.name);
      if (field.type === "checkbox" || field.type === "radio") field.checked = wanted.includes(field.value);
      else if (wanted.length) field.value = wanted[0];
    }
    this.putPhotos(given("photos"));
    for (const details of this.form.querySelectorAll("details")) {
      details.open ||= [...details.querySelectorAll("input, select")].some((field) => field.value && field.name !== "weight_0");
    }
  }

  /* The photos were sent while the rest was typed: the record has them, only their place in the form is missing. */
  putPhotos(keys) {
    const figures = new Map([...this.list.querySelectorAll("input[name=photos]")].map((input) => [input.value, input.closest("figure")]));
    for (const [key, figure] of figures) if (!keys.includes(key)) figure.remove();
    for (const key of keys) if (!figures.has(key)) this.list.append(this.figure(key));
  }

  figure(key) {
    const box = this.list.closest("[data-attach]");
    const figure = box.querySelector("template[data-attach-figure]").content.firstElementChild.cloneNode(true);
    const image = figure.querySelector("img");
    image.addEventListener("load", () => {
      image.hidden = false;
      figure.querySelector(".no-picture").hidden = true;
    });
    image.src = `${box.dataset.upload}${key}/320.jpg`;
    figure.querySelector("progress").remove();
    for (const mark of figure.querySelectorAll("[data-mark]")) mark.hidden = mark.dataset.mark !== "sent";
    figure.querySelector("[data-words]").textContent = "Sent";
    figure.querySelector("[data-remove]").addEventListener("click", () => {
      figure.remove();
      box.querySelector("input[type=file]").focus();
    });
    figure.append(Object.assign(document.createElement("input"), { type: "hidden", name: "photos", value: key }));
    return figure;
  }
}

/* The photo page of a timer: what is sent is attached at once. The form names all that were, so that a photo removed here
   is taken off the session, and one that another phone sent meanwhile is not. */
function nameThoseThatWere(form) {
  const named = new Set([...form.querySelectorAll("input[name=were]")].map((input) => input.value));
  const look = () => {
    for (const { value } of form.querySelectorAll("input[name=photos]")) {
      if (named.has(value)) continue;
      named.add(value);
      form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "were", value }));
    }
  };
  new MutationObserver(look).observe(form.querySelector("[data-attach-list]"), { childList: true, subtree: true });
}

/* A new form may be an old page, kept to be opened without signal: then two sessions would share one id, and its times would
   be those of the day when it was kept. */
function makeNew(form) {
  const { request_id: id, assembly, day, started, ended } = form.elements;
  if (form.dataset.session || "answered" in form.dataset) return;
  id.value = newId();
  assembly.value ||= new URLSearchParams(location.search).get("assembly") ?? "";
  const now = Date.now();
  if (Math.abs(now - Number(form.dataset.made) * 1000) < OLD) return;
  [day.value, started.value] = clockIn(form.dataset.zone, now - HOUR);
  [, ended.value] = clockIn(form.dataset.zone, now);
}

/* Date and time of day as the fields take them. */
function clockIn(timeZone, at) {
  const told = { timeZone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
  const part = Object.fromEntries(new Intl.DateTimeFormat("en-US", told).formatToParts(at).map(({ type, value }) => [type, value]));
  return [`${part.year}-${part.month}-${part.day}`, `${part.hour}:${part.minute}`];
}

/* What the outbox keeps of a session form: its fields as they are. A correction has an id of its own each time. */
function itemOf(form) {
  const fields = [...new FormData(form)].filter(([name, value]) => !NOT_SENT.has(name) && typeof value === "string");
  const where = form.elements.assembly?.selectedOptions?.[0]?.text.trim() ?? "";
  const label = `Session${where ? ` on ${where}` : ""}, ${form.elements.day.value}`;
  const { session } = form.dataset;
  if (!session) return { kind: "session", id: form.elements.request_id.value, pairs: fields, label };
  const pairs = [...fields.filter(([name]) => name !== "request_id"), ["session", session]];
  return { kind: "session_edit", id: newId(), pairs, label: `Correction: ${label}` };
}

/* A form that came back with errors is in the person's hands again: what was kept of it is not sent by itself. */
async function takeBack(form) {
  if ("answered" in form.dataset) await (await openStore()).drop(form.elements.request_id.value);
}

for (const name of drafts()) if (!read(name)) kept.removeItem(name);
for (const shown of document.querySelectorAll("[data-kept-request]")) forget(shown.dataset.keptRequest);
for (const form of document.querySelectorAll("form[data-session-form]")) {
  takeBack(form);
  makeNew(form);
  const draft = new Draft(form);
  const session = form.dataset.session || form.elements.request_id.value;
  new Saving(form, { session, item: () => itemOf(form), keptHere: () => draft.forget() });
}
for (const form of document.querySelectorAll("form[data-session-photos]")) {
  nameThoseThatWere(form);
  new Saving(form, { session: form.dataset.sessionPhotos, item: () => null, keptHere: () => {} });
}
