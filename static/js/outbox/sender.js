/* Sends what is kept: text first, then photos one at a time, each exactly once. Nothing is let go before the server has
   repeated its id, and for photos its digest. */

import { onChange, told } from "./changes.js";
import { backoff, isLeftBehind, nextToSend } from "./choosing.js";
import { takeLease, withLease } from "./lease.js";
import { describe, isOpen, UNREADABLE } from "./outbox.js";
import { ask, askStatus } from "./request.js";
import { NO_ROOM, openStore } from "./store.js";

const EVERY = 20_000;
const SOON = 5_000;
const FRESH = 2_000;
const WHOLE = 8 * 1024 * 1024;
const PIECE = 2 * 1024 * 1024;
const MB = 1024 * 1024;
const KEPT_FOR = 7 * 24 * 3600 * 1000;
const RESETS = 5;
const SETTLES = 60_000;

const SIGN_IN = "Sign in to send.";
const NO_SIGNAL = "No signal. It is sent by itself when there is.";
const UNKNOWN = "The server does not know this project for whoever is signed in.";
const LATER = {
  0: NO_SIGNAL,
  404: UNKNOWN,
  409: "It was damaged on the way. It is sent again by itself.",
  425: "Waits for what it belongs to.",
};
const TROUBLE = "The server gave no clear answer. It is sent again by itself.";
const REFUSED = { 413: "The server says this file is too large.", 403: "Whoever is signed in may not add this." };

const looks = new Map();
let running = null;
let again = false;
let timer = 0;

/** Sends on load, when signal comes back, when the page is looked at again, every 20 seconds and after every keep. */
export function startSending() {
  onChange(({ why }) => {
    if (why === "kept") flush();
  });
  addEventListener("online", () => wake().then(() => flush()));
  addEventListener("pageshow", (event) => event.persisted && flush());
  document.addEventListener("visibilitychange", () => document.hidden || flush());
  setInterval(async () => (await somethingWaits()) && flush(), EVERY);
  flush();
}

/* What failed for lack of signal need not wait any longer once there is some. */
async function wake() {
  const store = await openStore();
  for (const item of await store.all()) {
    if (item.next_try && item.trouble === NO_SIGNAL && isOpen(item)) await store.change(item.id, { next_try: 0 });
  }
}

async function somethingWaits() {
  return (await (await openStore()).all()).some(isOpen);
}

/**
 * Sends what is due now.
 * @param {object} [given]
 * @param {string} [given.url] only what is posted there
 * @returns {Promise<void>} resolves when there is nothing more to send for now
 */
export function flush({ url } = {}) {
  if (running) {
    again = true;
    return running;
  }
  running = rounds(url);
  return running;
}

/* Whoever asks while a round goes on is answered by another round; between the last look and the end nothing is waited for. */
async function rounds(url) {
  try {
    const store = await openStore();
    do {
      again = false;
      await comeBack(store, await round(store, url));
    } while (again);
  } finally {
    running = null;
  }
}

/* Whether this page was the one that sends. */
async function round(store, only) {
  await store.rescueWords();
  await tidy(store);
  const leads = await takeLease(store);
  const work = async () => {
    if (leads) await pickUp(store);
    const may = (item) => (leads || store.holds(item.id)) && (!only || item.url === only);
    for (const url of new Set((await store.all()).filter((item) => isOpen(item) && may(item)).map((item) => item.url))) {
      await new Courier(store, url, may, leads).carry();
    }
  };
  await (leads ? withLease(store, work) : work());
  return leads;
}

/* What a page that went had begun to send waits again: this page is the one that sends now, and is not sending it yet. */
async function pickUp(store) {
  for (const { id, state } of await store.all()) {
    if (state !== "sending") continue;
    await store.change(id, (now) => (now.state === "sending" ? { state: "waiting" } : null));
    told({ why: "changed", id });
  }
}

/* Wakes up when the next item that failed is due; while another page sends, soon, because that page may have died. */
async function comeBack(store, leads) {
  clearTimeout(timer);
  const now = Date.now();
  const due = (await store.all()).filter(isOpen).map((item) => (leads ? Math.max(item.next_try, item.hold_until ?? 0) : now + SOON));
  const next = Math.min(...due.filter((at) => at > now && at < now + 600_000));
  if (Number.isFinite(next)) timer = setTimeout(() => flush(), next - now + 50);
}

async function tidy(store) {
  const old = Date.now() - KEPT_FOR;
  for (const item of await store.all()) {
    if ((item.state === "sent" && item.sent_at < old) || (item.state === "undone" && item.undone_at < old)) await store.drop(item.id);
  }
}

/**
 * Asks the server what it knows and remembers it for when there is no signal ("status:<slug>", with `at`).
 * @param {string} url address of captured/
 * @param {number} [patience] milliseconds
 * @param {number} [fresh] milliseconds; where the server answered anything since, what it said last is good enough
 * @returns {Promise<{outcome: string, status?: object, at: number}>}
 */
export async function look(url, patience, fresh = 0) {
  const known = looks.get(url);
  if (known && Date.now() - known.heard < fresh && known.outcome === "here") return known;
  const seen = { ...(await askStatus(url, patience)), at: Date.now() };
  seen.heard = seen.at;
  looks.set(url, seen);
  if (seen.outcome === "here") {
    const store = await openStore();
    const { project, person } = seen.status;
    await store.remember(`status:${project.slug}`, { ...seen.status, at: seen.at });
    await store.remember(`person:${person.key}`, person.name);
  }
  told({ why: "status", url, outcome: seen.outcome });
  if (known?.outcome === "unreachable" && seen.outcome === "here") wake().then(() => flush());
  return seen;
}

/* Carries what is due to one project. */
class Courier {
  constructor(store, url, may, leads) {
    Object.assign(this, { store, url, leads, tried: new Set() });
    this.may = (item) => item.url === url && may(item) && !this.tried.has(item.id);
  }

  async carry() {
    if (!(await this.next())) return;
    if (!(await this.look(FRESH))) return;
    await this.askKnown();
    for (let item = await this.next(); item; item = await this.next()) {
      if (this.leads && !(await takeLease(this.store))) return;
      this.tried.add(item.id);
      if ((await this.belongs(item)) && !(await this.send(item))) return;
    }
  }

  async next() {
    const items = await this.store.all();
    for (const item of items) if (this.may(item) && isOpen(item)) await this.sayWhyNot(item, items);
    return nextToSend(items, { now: Date.now(), may: this.may });
  }

  /* Words about a photo that never goes are of no use; the stop of a timer that was refused waits for its start. */
  async sayWhyNot(item, items) {
    if (!isLeftBehind(item, items)) return;
    if (item.fields.photo_request) await this.store.drop(item.id);
    else if (item.state !== "held") await this.set(item, { state: "held", trouble: "Waits for the start of this timer, which was not taken." });
  }

  /* Whether somebody is signed in there who may send at all. */
  async look(fresh) {
    this.seen = await look(this.url, undefined, fresh);
    if (this.seen.outcome === "signed-out") await this.holdAll(SIGN_IN);
    if (this.seen.outcome === "unknown") await this.holdAll(UNKNOWN);
    return this.seen.outcome === "here";
  }

  async holdAll(trouble) {
    for (const item of await this.store.all()) {
      if (item.url === this.url && isOpen(item) && item.state !== "refused") await this.set(item, { state: "held", trouble });
    }
  }

  async set(item, facts) {
    await this.store.change(item.id, (now) => (now.state === "undone" ? null : facts));
    told({ why: "changed", id: item.id });
  }

  /* What was tried before may have arrived, with only the answer lost. */
  async askKnown() {
    const doubtful = (await this.store.all()).filter((item) => this.may(item) && isOpen(item) && (item.tries || item.hold_until));
    for (let at = 0; at < doubtful.length; at += 200) {
      const some = doubtful.slice(at, at + 200);
      const body = new URLSearchParams(some.map((item) => ["id", item.id]));
      const answer = await ask(`${this.url}known/`, { token: this.token, body });
      for (const item of some) {
        const found = answer.status === 200 ? answer.body?.items?.[item.id] : null;
        if (found && isFor(item, found)) await this.arrived(item, found);
      }
    }
  }

  get token() {
    return this.seen.status.csrf;
  }

  /* Nobody's work is sent in another's name. */
  async belongs(item) {
    if (!item.person || item.person === this.seen.status.person.key) return true;
    const name = await this.store.recall(`person:${item.person}`);
    const trouble = name ? `Kept for ${name}. Sign in as ${name} to send it.` : "Kept for somebody else. It is sent when that person signs in here.";
    await this.set(item, { state: "held", trouble });
    return false;
  }

  /* One item; false when it is of no use to go on with others now. */
  async send(item) {
    const blob = item.file && (await this.store.bytes(item.id));
    if (item.file && !blob) return this.lost(item);
    if (item.file && (await this.tooLarge(item))) return true;
    const taken = await this.store.change(item.id, (now) => (isOpen(now) ? { state: "sending", tries: now.tries + 1 } : null));
    if (!taken) return true;
    told({ why: "changed", id: item.id });
    let answer = await this.post(taken, blob);
    if (answer.status === 403) {
      if (!(await this.look(0))) return this.wait(taken, LATER[0]);
      if (!(await this.belongs(taken))) return true;
      answer = await this.post(taken, blob);
    }
    return this.settle(taken, answer, blob);
  }

  /* The bytes are not here: they lie in the memory of the page that took them, for now or for good. */
  async lost(item) {
    const settling = item.file.kept === false && Date.now() - item.happened < SETTLES;
    if (!settling) await this.set(item, { state: "held", trouble: item.file.kept === false ? NO_ROOM : UNREADABLE });
    return true;
  }

  async tooLarge(item) {
    const { photo = Infinity, clip = photo } = this.seen.status.limits ?? {};
    const most = /^(video|audio)\//.test(item.file.type) ? clip : Math.max(photo, item.file.type ? 0 : clip);
    if (item.file.size <= most) return false;
    await this.set(item, { state: "refused", trouble: `The file has ${(item.file.size / MB).toFixed(1)} MB; at most ${Math.round(most / MB)} MB are taken.` });
    return true;
  }

  async post(item, blob) {
    let last = -1;
    const tell = (share) => {
      const percent = Math.floor(share * 100);
      if (percent !== last) told({ why: "progress", id: item.id, share });
      last = percent;
    };
    const body = formOf(item, this.seen);
    if (blob && blob.size > WHOLE) {
      const answer = await this.postPieces(item, blob, tell);
      if (answer.status !== 200) return answer;
      body.set("pieces", "1");
    } else if (blob) body.set("photo", blob, item.file.name || "photo");
    return ask(`${this.url}?kind=${item.kind}`, { token: this.token, body, tell });
  }

  /* A large file goes in pieces, from where it was broken off. */
  async postPieces(item, blob, tell) {
    const size = this.seen.status.limits?.piece ?? PIECE;
    const at = (more) => `${this.url}piece/?${new URLSearchParams({ digest: item.file.digest, ...more })}`;
    let answer = await ask(at(), { token: this.token, method: "GET" });
    for (let resets = 0; resets < RESETS; ) {
      const have = answer.body?.have;
      if (!Number.isInteger(have) || (answer.status >= 300 && answer.status !== 409)) break;
      if (have >= blob.size) return { status: 200, body: answer.body };
      if (answer.status === 409) resets += 1;
      const piece = blob.slice(have, have + size);
      const done = (share) => tell((have + share * piece.size) / blob.size);
      answer = await ask(at({ offset: have, size: blob.size }), { token: this.token, body: piece, tell: done });
    }
    return answer.status === 200 || answer.status === 201 ? { status: 500, body: null } : answer;
  }

  async settle(item, { status, body }, blob) {
    if ((status === 200 || status === 201) && isFor(item, body)) {
      await this.arrived(item, body);
      return true;
    }
    if (status === 401) {
      await this.holdAll(SIGN_IN);
      this.seen = { outcome: "signed-out" };
      told({ why: "status", url: this.url, outcome: "signed-out" });
      return false;
    }
    if (status === 403 || status === 413 || status === 422) {
      await this.set(item, { state: "refused", trouble: body?.error || REFUSED[status] || TROUBLE, answer: body });
      return true;
    }
    if (status === 0 && blob && !(await canBeRead(blob))) return this.lost({ ...item, file: { ...item.file, kept: true } });
    await this.wait(item, LATER[status] ?? TROUBLE);
    return status !== 0 || this.look(0);
  }

  async wait(item, trouble) {
    const facts = { state: "waiting", next_try: Date.now() + backoff(item.tries), trouble };
    await this.set(item, facts);
    return false;
  }

  async arrived(item, answer) {
    this.seen.heard = Date.now();
    const now = await this.store.sent(item.id, { state: "sent", sent_at: Date.now(), trouble: "", answer });
    if (now && item.file) await this.sayWhatChanged(item, now);
    told({ why: "sent", id: item.id, kind: item.kind });
    document.dispatchEvent(new CustomEvent("outbox:sent", { detail: { item: now ?? item, answer } }));
  }

  /* What was tapped while the photo was on its way. */
  async sayWhatChanged(sent, now) {
    const changed = Object.entries(now.fields).filter(([name, value]) => (sent.fields[name] ?? "") !== value);
    if (changed.length) await describe(now, Object.fromEntries(changed));
  }
}

/* Only an answer that repeats the id, and for a file its digest, is about this item. */
function isFor(item, body) {
  return body?.request_id === item.id && (!item.file || body.digest === item.file.digest);
}

async function canBeRead(blob) {
  try {
    await blob.slice(0, 1).arrayBuffer();
    return true;
  } catch {
    return false;
  }
}

/* The request as the server takes it. A session form has a field "kind" of its own; what is sent stands in the address. */
function formOf(item, { status, at }) {
  const form = new FormData();
  for (const [name, value] of item.pairs ?? Object.entries(item.fields)) {
    for (const one of [value].flat()) form.append(name, one);
  }
  form.set("request_id", item.id);
  if (!item.pairs) form.set("kind", item.kind);
  form.set("happened_at", String(item.happened));
  form.set("sent_at", String(Date.now()));
  form.set("ahead", String(Math.round(at - status.now)));
  form.set("person", status.person.key);
  if (item.file) {
    form.set("digest", item.file.digest);
    form.set("size", String(item.file.size));
    form.set("file_name", item.file.name);
    form.set("file_time", String(item.file.modified));
    form.set("camera_clock", item.file.camera?.clock ?? "");
    form.set("camera_offset", item.file.camera?.offset ?? "");
  }
  return form;
}
