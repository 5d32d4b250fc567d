/* Everything that is captured goes through here: first kept on this phone, then sent by sender.js.

   An item is { id, kind, project, person, url, fields | pairs, happened, order, file, label, state, hold_until, tries,
   next_try, trouble, answer, sent_at, form }. `state` is "waiting", "sending", "held" (`trouble` says for what), "refused"
   (the server said no for good), "undone" or "sent". Times are milliseconds since 1970 by this phone's clock. */

import { cameraTime } from "./camera-time.js";
import { told } from "./changes.js";
import { digestOf } from "./digest.js";
import { newId } from "./id.js";
import { NOT_KEPT, openStore } from "./store.js";

const OPEN = new Set(["waiting", "sending", "held", "refused"]);
const TIMER = new Set(["timer_start", "timer_stop", "timer_break", "timer_on"]);
/* What the server changes about a photo after it was sent. */
const DESCRIBED = ["shows", "builder_in_frame", "caption", "place"];

export const UNREADABLE = "This file cannot be read any more. Take the photo again or choose it again.";

/**
 * Keeps a photo, clip or sound. Its digest, its time and the camera's time are read before anything else is done with it.
 * @param {object} given
 * @param {string} given.project slug
 * @param {string} given.person key of whoever is signed in, "" if unknown
 * @param {string} given.url address of captured/ of the project
 * @param {File} given.file
 * @param {object} [given.fields] place, session, shows, builder_in_frame, caption
 * @param {string} given.label what a list says, such as "Photo on 24.1 Tip float, left"
 * @param {string} [given.into] id of the timer or session that it belongs to
 * @param {string} [given.form] the form it was chosen in, so that a reload finds it again
 * @param {number} [given.holdUntil] not sent before
 * @param {(share: number) => void} [given.tell] hears how much of the file is read, 0 to 1
 * @returns {Promise<{item: object, kept: boolean}>} `kept` false: it is only in this page, item.trouble says what to do.
 *   Rejects with a sentence when the file cannot be read.
 */
export async function keepPhoto({ file, fields = {}, into, form = "", holdUntil = 0, tell, ...given }) {
  const happened = Date.now();
  let digest;
  try {
    digest = await digestOf(file, tell);
  } catch {
    throw new Error(UNREADABLE);
  }
  const camera = await cameraTime(file);
  const about = { name: file.name ?? "", type: file.type, size: file.size, modified: file.lastModified ?? happened, digest, camera };
  const all = { ...fields, ...(into ? { session: into } : {}) };
  const item = begin({ ...given, kind: "photo", fields: all, happened, file: about, hold_until: holdUntil, form });
  return keep(await lostBefore(item), file);
}

/* The same file chosen again after its bytes were lost takes the place of what was noted then. */
async function lostBefore(item) {
  const store = await openStore();
  const same = (one) => one.file?.digest === item.file.digest && one.file.kept === false && one.project === item.project;
  for (const one of (await store.all()).filter(same)) {
    if (one.state === "sent" || one.state === "undone" || (await store.bytes(one.id))) continue;
    await store.drop(one.id);
    return { ...item, id: one.id, fields: { ...one.fields, ...item.fields }, happened: one.happened };
  }
  return item;
}

/**
 * Keeps something without a file: a timer's tap, a session, words about a photo.
 * @param {object} given
 * @param {string} given.kind
 * @param {string} given.project
 * @param {string} given.person
 * @param {string} given.url
 * @param {object} [given.fields] flat strings, lists for names that repeat
 * @param {string[][]} [given.pairs] [name, value] pairs, for sessions
 * @param {string} given.label
 * @param {number} [given.holdUntil] not sent before
 * @param {string} [given.id] a session form's own request id
 * @returns {Promise<object>} the item; `in_memory` when it could not be kept on this phone
 */
export async function keepEvent({ holdUntil = 0, ...given }) {
  const { item } = await keep(begin({ ...given, happened: Date.now(), file: null, hold_until: holdUntil }));
  return item;
}

function begin({ id = newId(), fields = {}, ...given }) {
  return { ...given, id, fields, order: 0, state: "waiting", tries: 0, next_try: 0, trouble: "", answer: null };
}

async function keep(item, blob) {
  const store = await openStore();
  const kept = await store.keep(item, blob);
  told({ why: "kept", id: item.id, kind: item.kind });
  return { item, kept };
}

/**
 * Takes something back. What is not sent stays here for seven days and can be put back; a photo that is sent is taken back
 * on the server by a request that goes through the outbox too.
 * @returns {Promise<boolean>} false when it cannot be taken back (a tap on a timer that the server has)
 */
export async function undo(id) {
  const store = await openStore();
  // In one step, because the sender may take the item up at this very moment.
  const undone = await store.change(id, ({ state }) =>
    state === "waiting" || state === "held" || state === "refused" ? { state: "undone", undone_at: Date.now(), trouble: "" } : null,
  );
  if (undone?.kind === "timer_start") await leaveWithout(id);
  const done = undone !== null || (await withdraw(await store.get(id)));
  if (done) told({ why: "changed", id });
  return done;
}

async function withdraw(item) {
  if (item?.kind !== "photo" || item.state === "undone" || item.withdrawn) return false;
  await keepEvent({ ...about(item), kind: "undo", fields: { photo_request: item.id }, label: `Undo: ${item.label}` });
  await (await openStore()).change(item.id, { withdrawn: true });
  return true;
}

/* A timer that was never started has no stop, and its photos belong to no session. */
async function leaveWithout(start) {
  const store = await openStore();
  for (const item of await store.all()) {
    if (item.fields.session !== start || !OPEN.has(item.state)) continue;
    const undone = { state: "undone", undone_at: Date.now() };
    await store.change(item.id, TIMER.has(item.kind) ? undone : { fields: { ...item.fields, session: "" } });
  }
}

/**
 * Puts back what was undone.
 * @returns {Promise<boolean>} false when the server took it back already
 */
export async function putBack(id) {
  const store = await openStore();
  const item = await store.get(id);
  if (item?.state === "undone") {
    await store.change(id, { state: "waiting", undone_at: null, tries: 0, next_try: 0 });
  } else {
    const request = (await store.all()).find((one) => one.kind === "undo" && one.fields.photo_request === id && OPEN.has(one.state));
    if (!request || request.state === "sending") return false;
    await store.drop(request.id);
    await store.change(id, { withdrawn: false });
  }
  told({ why: "kept", id });
  return true;
}

/**
 * Changes what is said about a photo: before it is sent in the item itself, afterwards by a request of its own.
 * @param {string} id
 * @param {object} fields only those that change
 */
export async function retag(id, fields) {
  const store = await openStore();
  const changed = await store.change(id, (item) => ({ fields: { ...item.fields, ...fields } }));
  if (!changed) return;
  if (changed.state === "sent") await describe(changed, fields);
  told({ why: "kept", id });
}

/**
 * Queues what changed about a photo that the server has; the sender calls it for what changed while it was being sent.
 * @param {object} item
 * @param {object} fields
 */
export async function describe(item, fields) {
  const said = Object.entries(fields).filter(([name]) => DESCRIBED.includes(name));
  if (!said.length) return;
  const asked = Object.fromEntries([["photo_request", item.id], ...said]);
  await keepEvent({ ...about(item), kind: "describe", fields: asked, label: `About: ${item.label}` });
}

function about({ project, person, url }) {
  return { project, person, url };
}

/** Sends again at once: one item, or everything that waits or was refused. */
export async function tryAgain(id) {
  const store = await openStore();
  for (const item of id ? [await store.get(id)] : await store.all()) {
    if (item && OPEN.has(item.state)) await store.change(item.id, { state: "waiting", next_try: 0, hold_until: 0, trouble: "" });
  }
  told({ why: "kept", id });
}

/** The server has shown that it has what this request brought: it need not be sent. */
export async function forgetRequest(id) {
  const store = await openStore();
  const item = await store.get(id);
  if (!item || item.state === "sent") return;
  await store.sent(id, { state: "sent", sent_at: Date.now(), trouble: "" });
  told({ why: "sent", id, kind: item.kind });
}

/** @returns {Promise<object[]>} what the server does not have yet, in order; of one project if it is named. */
export async function waiting(project) {
  const store = await openStore();
  return (await store.all()).filter((item) => isOpen(item) && (!project || item.project === project));
}

/** Whether the server does not have an item yet, and it is not taken back. */
export function isOpen(item) {
  return OPEN.has(item.state);
}

/**
 * What to say about items: how many wait, how large, since when, how many need somebody.
 * @param {object[]} items
 * @returns {{count: number, bytes: number, since: number|null, refused: number, held: number, sentToday: number, unkept: number}}
 */
export function summary(items) {
  const open = items.filter(isOpen);
  const today = new Date().setHours(0, 0, 0, 0);
  const those = (state) => open.filter((item) => item.state === state).length;
  return {
    count: open.length,
    bytes: open.reduce((sum, item) => sum + (item.file?.size ?? 0), 0),
    since: open.length ? Math.min(...open.map((item) => item.happened)) : null,
    refused: those("refused"),
    held: those("held"),
    sentToday: items.filter((item) => item.state === "sent" && item.sent_at >= today).length,
    unkept: open.filter((item) => item.in_memory || item.file?.kept === false).length,
  };
}

/**
 * The timers that run, once everything tapped on this phone is counted.
 * @param {object[]} items
 * @param {object[]} serverTimers `timers` of the status
 * @param {number} [asOf] when the status was fetched, by this phone's clock: taps that were sent before are in it already
 * @returns {object[]} like serverTimers, each with `pending` true while something about it is not sent
 */
export function pendingTimers(items, serverTimers, asOf = Infinity) {
  let timers = serverTimers.map((timer) => ({ ...timer, pending: false }));
  for (const item of [...items].sort((one, other) => one.order - other.order)) {
    if (!TIMER.has(item.kind) || !counts(item, asOf)) continue;
    timers = item.kind === "timer_start" ? started(timers, item) : timers.flatMap((timer) => tapped(timer, item));
  }
  return timers;
}

function counts(item, asOf) {
  if (item.state === "sent") return item.sent_at > asOf;
  return item.state === "waiting" || item.state === "sending" || item.state === "held";
}

/* Whoever starts a timer is taken off the one that ran for him: so one switches. */
function started(timers, item) {
  if (timers.some((timer) => timer.request_id === item.id)) return timers;
  const begun = {
    session: item.answer?.session ?? "",
    request_id: item.id,
    assembly: item.fields.assembly,
    started: item.happened,
    break_since: null,
    off_seconds: 0,
    people: [],
    mine: true,
    pending: item.state !== "sent",
  };
  return [...timers.filter((timer) => !timer.mine), begun];
}

function tapped(timer, item) {
  if (timer.request_id !== item.fields.session) return [timer];
  if (item.kind === "timer_stop") return [];
  const pending = timer.pending || item.state !== "sent";
  if (item.kind === "timer_break") return [{ ...timer, pending, break_since: timer.break_since ?? item.happened }];
  const off = timer.break_since === null ? 0 : Math.max(0, Math.round((item.happened - timer.break_since) / 1000));
  return [{ ...timer, pending, break_since: null, off_seconds: timer.off_seconds + off }];
}

export { NOT_KEPT };
