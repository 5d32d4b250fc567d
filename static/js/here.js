/* What a page of a project is about, what this phone remembers of the project, and the words for times. */

import { openStore } from "./outbox/store.js";

/* Times are told in the project's zone, as the server tells them. */
const timeZone = document.body.dataset.zone || undefined;
const CLOCK = inZone({ hour: "2-digit", minute: "2-digit" });
const DAY = inZone({ weekday: "short", day: "numeric", month: "short" });

/** The page's project, who is signed in, and the addresses of captured/ and of kept/, as the body says them. */
export const here = { project: document.body.dataset.project, person: document.body.dataset.person ?? "", url: document.body.dataset.captured };

/** @returns {Promise<object|null>} the last status of the project that this phone has, with `at`; null before the first. */
export async function knownStatus() {
  return (await (await openStore()).recall(`status:${here.project}`)) ?? null;
}

/** @returns {Promise<object[]>} everything captured for this project that this phone still knows of, in order. */
export async function itemsHere() {
  return (await (await openStore()).all()).filter((item) => item.project === here.project);
}

/** @returns {string} a time of today as "14:02", another with its day. */
export function whenWords(ms) {
  const today = DAY.format(ms) === DAY.format(Date.now());
  return today ? CLOCK.format(ms) : `${DAY.format(ms)}, ${CLOCK.format(ms)}`;
}

/** Shows the one child of `box` with this data-mark and hides the others. */
export function showMark(box, name) {
  for (const one of box.querySelectorAll("[data-mark]")) one.hidden = one.dataset.mark !== name;
}

/** Puts words into a node and hides it where there are none; untouched where they are there already. */
export function say(node, words) {
  if (node.textContent !== words) node.textContent = words;
  node.hidden = !words;
}

/* A browser that does not know the zone tells its own time. */
function inZone(told) {
  try {
    return new Intl.DateTimeFormat("en-GB", { ...told, timeZone });
  } catch {
    return new Intl.DateTimeFormat("en-GB", told);
  }
}
