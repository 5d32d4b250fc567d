/* One page at a time sends: whoever has the lease, a fact that is renewed while it is used and goes stale when its page
   dies. Works where the browser has no locks. */

import { newId } from "./id.js";

const NAME = "lease";
const LASTS = 15_000;
const page = newId();
let ours = false;
let leaving = false;

// A page that comes back from the browser's memory may send again.
addEventListener("pageshow", () => {
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
    // Noted before it is written: the page may go at any moment.
    ours = mayTake(lease, now);
    return ours ? { page, until: now + LASTS } : undefined;
  });
}

/* A lease that ends further ahead than one can be given was written before the clock was put right. */
function mayTake(lease, now) {
  return !lease || lease.page === page || lease.until <= now || lease.until > now + LASTS;
}

/** Gives the lease back, if it is ours. */
export async function leaveLease(store) {
  await store.swap(NAME, (lease) => (lease?.page === page ? null : undefined));
  ours = false;
}

/** Gives the lease back as the page goes, so that the next page sends at once. */
export function dropLease(store) {
  if (ours) store.leave(NAME, null);
  leaving = true;
  ours = false;
}

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
