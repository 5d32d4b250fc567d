/* A page on which taps are kept before they are sent. Once the server has them all, its newer page is the better one to
   look at; and what was sent while that page was on its way is not in it yet. */

import { isWaiting } from "./kept-words.js";

const TAKEN = `fresh:${location.pathname}`;

let waited = false;
let leaving = false;

/** Says that something was tapped on this page, which is sent before anything could see it wait. */
export function willWait() {
  waited = true;
}

/**
 * Reloads the page once nothing waits any more.
 * @param {object[]} items of this page
 * @param {{busy?: boolean, isNews?: (item: object) => boolean}} [about] whether a tap is being answered; which sent items the
 *   server's page cannot know of yet. For one such item it reloads once: without signal the phone brings the same old page.
 */
export function freshWhenSent(items, { busy = false, isNews = () => false } = {}) {
  const waits = items.some(isWaiting);
  waited ||= waits;
  if (waits || busy || leaving) return;
  const news = items.findLast((item) => item.state === "sent" && isNews(item))?.id;
  if (!waited && (!news || sessionStorage.getItem(TAKEN) === news)) return;
  if (news) sessionStorage.setItem(TAKEN, news);
  leaving = true;
  location.reload();
}

addEventListener("pageshow", ({ persisted }) => {
  if (persisted) leaving = false;
});
