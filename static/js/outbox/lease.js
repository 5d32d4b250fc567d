/* One page at a time sends: whoever has the lease, a fact that is renewed while it is used and goes stale when its page
   dies. Works where the browser has no locks. */

import { newId } from "./id.js";

const NAME = "lease";
const LEFT = "buildlog-lease-left";
const LASTS = 15_000;
const LEFT_AT_MOST = 20;
let page = newId();
let had = false;
let leaving = false;

// A page that comes back from the browser's memory may send again, as another one.
addEventListener("pageshow", ({ persisted }) => {
  if (!persisted) return;
  page = newId();
  leaving = false;
});

/**
 * Takes or renews the lease.
 * @param {object} store
 * @returns {Promise<boolean>} false while another page has it
 */
export async function takeLease(store) {
  if (leaving) return false;
  const now = Date.now();
  return store.swap(NAME, (lease) => {
    if (!mayTake(lease, now)) return undefined;
    // Noted before it is written: the page may go at any moment.
    had = true;
    return { page, until: now + LASTS };
  });
}

/* A lease that ends further ahead than one can be given was written before the clock was put right. */
function mayTake(lease, now) {
  return !lease || lease.page === page || haveLeft().includes(lease.page) || lease.until <= now || lease.until > now + LASTS;
}

/* The last pages that went, newest first. More than one: on a full phone a page that sends cannot write its lease, and
   what stands there is the lease of the page before it. */
function haveLeft() {
  try {
    return (localStorage.getItem(LEFT) ?? "").split(" ");
  } catch {
    return [];
  }
}

/** Gives the lease back, if it is ours. */
export function leaveLease(store) {
  return store.swap(NAME, (lease) => (lease?.page === page ? null : undefined));
}

/* As its page goes, a lease is given back in the one storage that is written at once: a transaction may not come to its
   end, and one from before may not have. */
addEventListener("pagehide", () => {
  leaving = true;
  if (!had) return;
  try {
    localStorage.setItem(LEFT, [page, ...haveLeft()].slice(0, LEFT_AT_MOST).join(" "));
  } catch {
    // It runs out by itself.
  }
});

/**
 * Runs `work` with the lease renewed all the while.
 * @param {object} store
 * @param {() => Promise<void>} work
 */
export async function withLease(store, work) {
  const renewing = setInterval(() => takeLease(store), LASTS / 3);
  try {
    await work();
  } finally {
    clearInterval(renewing);
    await leaveLease(store);
  }
}
