/* Keeps the page that is open, and others named beside it, so that they open without signal. */

/** @param {string[]} [more] paths of further pages */
export function keepThisPage(more = []) {
  navigator.serviceWorker?.ready.then(({ active }) => active?.postMessage({ keep: [...new Set([location.pathname, ...more])] }));
}

const named = document.querySelector("[data-keep-page]");
if (named) keepThisPage(named.dataset.keepPage.split(" ").filter(Boolean));
