/* What the shop page says about timers and photos of which the server has not everything. Pure: knows no page, no store. */

import { isOpen } from "./outbox/outbox.js";
import { whenWords } from "./here.js";

const TAPS = new Set(["timer_start", "timer_stop", "timer_break", "timer_on"]);
const NOT_KEPT = "Not kept on this phone: do not close this page";

/** @returns {string} where the taps on a timer are kept, "" when the server has them all. */
export function keptOf(timer, items) {
  const taps = items.filter((item) => isOpen(item) && TAPS.has(item.kind) && (item.id === timer.request_id || item.fields.session === timer.request_id));
  if (!taps.length) return "";
  if (taps.some((item) => item.in_memory)) return NOT_KEPT;
  const held = taps.find((item) => item.state === "held");
  return held ? `Kept on this phone. ${held.trouble}` : "Kept on this phone, waiting to send";
}

/**
 * The timers stopped on this phone of which there is something to say: not sent yet, or sent while the page was open.
 * @param {object[]} items
 * @param {number} since when the page was opened
 * @returns {{item: object, sent: boolean, words: string}[]}
 */
export function stoppedOnes(items, since) {
  const stops = items.filter((item) => item.kind === "timer_stop" && (item.state === "sent" ? item.sent_at >= since : isOpen(item) && item.state !== "refused"));
  return stops.map((item) => ({ item, sent: item.state === "sent", words: stoppedWords(item) }));
}

function stoppedWords(item) {
  const at = `Stopped at ${whenWords(item.happened)}`;
  if (item.state === "sent") return `${at}, kept on the server${item.answer?.number ? ` as session ${item.answer.number}` : ""}.`;
  if (item.in_memory) return `${at}. ${NOT_KEPT}.`;
  return item.state === "held" ? `${at}, kept on this phone. ${item.trouble}` : `${at}, kept on this phone, waiting to send.`;
}

/** @returns {object[]} taps on a timer that the server said no to. */
export function refusedTaps(items) {
  return items.filter((item) => TAPS.has(item.kind) && item.state === "refused");
}

/** @returns {string} how many of these photos are kept where, "" for none. */
export function photosWords(photos) {
  const lost = photos.filter((item) => item.in_memory || (item.file.kept === false && isOpen(item))).length;
  const there = photos.filter((item) => item.state === "sent").length;
  const here = photos.length - there - lost;
  const said = [here && `${counted(here)} kept on this phone`, there && `${counted(there)} kept on the server`].filter(Boolean);
  if (lost) said.unshift(`${counted(lost)} not kept on this phone: do not close this page`);
  return said.join(", ");
}

function counted(count) {
  return count === 1 ? "1 photo" : `${count} photos`;
}
