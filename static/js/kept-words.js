/* What a page says of a tap that this phone keeps. */

import { whenWords } from "./here.js";

const WAITS = new Set(["waiting", "sending", "held"]);

/** Whether a tap still has to reach the server. */
export function isWaiting({ state }) {
  return WAITS.has(state);
}

/** @returns {string} such as "Kept on this phone, 21:14 – will be sent" */
export function keptWords(item) {
  if (item.in_memory) return `In this page only, ${whenWords(item.happened)} – ${item.trouble}`;
  const when = `Kept on this phone, ${whenWords(item.happened)} – `;
  return item.state === "held" && item.trouble ? `${when}not sent yet. ${item.trouble}` : `${when}will be sent`;
}

/** @returns {string} such as "Heat off, 21:14: C-1 was withdrawn ..." of something that the server refused. */
export function refusedWords(item, what) {
  return `${what}, ${whenWords(item.happened)}: ${item.trouble}`;
}
