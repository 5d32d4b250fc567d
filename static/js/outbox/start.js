/* Loaded by every page of a project: shows what waits, sends it, and lets the service worker keep the pages that open
   without signal. What the page is about stands in the data of its body. */

import { forgetRequest } from "./outbox.js";
import { look, startSending } from "./sender.js";
import { showState } from "./state.js";
import { openStore } from "./store.js";
import { tellWhatWasLeft } from "../telling.js";

const KEEP_EVERY = 10 * 60_000;
const PROBE_EVERY = 5_000;
const { project, projectName, person, personName, captured, kept, worker: script } = document.body.dataset;

async function begin() {
  tellWhatWasLeft();
  showState({ url: captured, kept });
  const store = await openStore();
  await store.remember(`person:${person}`, personName);
  await store.remember("last-project", { slug: project, name: projectName });
  for (const shown of document.querySelectorAll("[data-kept-request]")) await forgetRequest(shown.dataset.keptRequest);
  const { outcome, status } = await reach();
  if (status && status.person.key !== person && (await dropPages())) return location.reload();
  startSending();
  const worker = await registered();
  if (worker && outcome === "here") await keepPages(store, worker);
}

/* While the server cannot be reached and the page is looked at it is asked again, so that its words become true again. */
async function reach() {
  const seen = await look(captured);
  if (seen.outcome === "unreachable") setTimeout(reachAgain, PROBE_EVERY);
  return seen;
}

function reachAgain() {
  if (document.hidden) document.addEventListener("visibilitychange", reach, { once: true });
  else reach();
}

/* A page kept for somebody else who was signed in here before: whatever is captured would be his. False if none is kept. */
async function dropPages() {
  const names = (await globalThis.caches?.keys())?.filter((name) => name.startsWith("pages-")) ?? [];
  for (const name of names) await caches.delete(name);
  return names.length > 0;
}

/* Only secure addresses have service workers; without one the page has to stay open. */
async function registered() {
  if (!navigator.serviceWorker) return null;
  try {
    await navigator.serviceWorker.register(script, { updateViaCache: "none" });
    return (await navigator.serviceWorker.ready).active;
  } catch {
    return null;
  }
}

/* The pages that open without signal are fetched anew every ten minutes, and at once when somebody else signed in. */
async function keepPages(store, worker) {
  const now = Date.now();
  const have = await caches.match(`/${project}/capture/`);
  const isFresh = (was) => have && was?.person === person && was.at > now - KEEP_EVERY && was.at <= now;
  const due = await store.swap(`pages:${project}`, (was) => (isFresh(was) ? undefined : { person, at: now }));
  if (due) worker.postMessage({ keep: ["", "capture/", "kept/", "sessions/new/"].map((page) => `/${project}/${page}`) });
}

begin();
