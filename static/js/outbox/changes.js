/* Word of every change to what is kept, to this page and to every other page of this site that is open. */

const SOON = 120;
const ears = new Set();
const channel = "BroadcastChannel" in globalThis ? new BroadcastChannel("buildlog-kept") : null;

channel?.addEventListener("message", (event) => hear(event.data));

function hear(news) {
  for (const listener of [...ears]) listener(news);
}

/**
 * @param {(news: {why: string, id?: string, kind?: string, share?: number}) => void} listener hears every change; `why` is
 *   "kept" (something new, or to be tried again), "changed", "progress", "sent" or "status".
 * @returns {() => void} stops listening.
 */
export function onChange(listener) {
  ears.add(listener);
  return () => ears.delete(listener);
}

/**
 * Says that something changed, to listeners of this page and of all others.
 * @param {{why: string, id?: string, kind?: string, share?: number}} news
 */
export function told(news) {
  hear(news);
  channel?.postMessage(news);
}

/**
 * Draws again soon after a change; many changes at once draw once.
 * @param {() => void} draw
 * @param {(news: object) => void} [first] hears each change before
 */
export function drawOnChange(draw, first = () => {}) {
  let soon = 0;
  onChange((news) => {
    if (news.why === "progress") return;
    first(news);
    soon ||= setTimeout(() => {
      soon = 0;
      draw();
    }, SOON);
  });
}
