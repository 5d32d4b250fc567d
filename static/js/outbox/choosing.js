/* Which item is to be sent next, and which cannot be yet. Knows no storage and no clock. */

const MOST_HOLD = 10 * 60_000;
const MOST_WAIT = 300_000;
const GONE = new Set(["refused", "undone"]);

/**
 * The next item to send: text before files, each in order.
 * @param {object[]} items in order
 * @param {object} given
 * @param {number} given.now
 * @param {(item: object) => boolean} given.may what this page may send at all
 * @returns {object|undefined}
 */
export function nextToSend(items, { now, may }) {
  const ready = items.filter((item) => isDue(item, now) && may(item) && !waitsFor(item, items));
  return ready.find((item) => !item.file) ?? ready[0];
}

/**
 * Whether it is time to send an item. A time further ahead than can be meant was written before the clock was put right.
 * @param {object} item
 * @param {number} now
 */
export function isDue(item, now) {
  if (item.state !== "waiting" && item.state !== "sending" && item.state !== "held") return false;
  const ahead = (at, most) => at > now && at <= now + most;
  return !ahead(item.hold_until ?? 0, MOST_HOLD) && !ahead(item.next_try, MOST_WAIT);
}

/**
 * The earlier item that has to be sent before this one: the start of a timer before its stop, a photo before words about it.
 * Photos wait for nobody; the server brings them to a session that comes later.
 * @param {object} item
 * @param {object[]} items
 * @returns {object|undefined}
 */
export function waitsFor(item, items) {
  const wanted = isAbout(item);
  if (!wanted) return undefined;
  const before = items.find((one) => one.id === wanted && one.id !== item.id);
  if (before && before.state !== "sent") return before;
  return items.find((one) => !one.file && one.fields.session === wanted && one.order < item.order && isStill(one));
}

/* What an item without a file is about: a photo, a session, a mix or a cure run that may lie here too. */
function isAbout(item) {
  const { photo_request: photo, session, mix, run } = item.fields ?? {};
  return item.file ? "" : (photo ?? session ?? mix ?? run);
}

function isStill({ state }) {
  return state === "waiting" || state === "sending" || state === "held";
}

/** Whether what an item without a file belongs to will never reach the server. */
export function isLeftBehind(item, items) {
  const wanted = isAbout(item);
  return Boolean(wanted) && items.some((one) => one.id === wanted && GONE.has(one.state));
}

/**
 * How long to wait after a failed try: 2, 4, 8, at most 300 seconds.
 * @param {number} tries
 * @returns {number} milliseconds
 */
export function backoff(tries) {
  return Math.min(MOST_WAIT, 2 ** Math.max(1, tries) * 1000);
}
