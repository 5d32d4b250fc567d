/* The service worker: opens the shop, the capture page, the list of what is kept and the log form without signal. It keeps
   styles, scripts and those pages; what is captured is not its business (static/js/outbox). Posts pass it untouched. */

const TOLD = JSON.parse("{{ told|escapejs }}");
const ASSETS = `assets-${TOLD.version}`;
const PAGES = `pages-${TOLD.version}`;
const PATIENCE = 3_000;
const CAPTURE = /^(\/[^/]+\/capture\/).+$/;

let leaving = false;

addEventListener("install", (event) => {
  skipWaiting();
  event.waitUntil(install());
});

addEventListener("activate", (event) => {
  event.waitUntil(clients.claim().then(sweep));
});

addEventListener("message", (event) => {
  if (Array.isArray(event.data?.keep)) event.waitUntil(keepPages(event.data.keep).then(sweep));
});

addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== location.origin) return;
  if (request.method !== "GET") {
    if (request.mode === "navigate") leaving = pathname === TOLD.sign_out;
    return;
  }
  if (request.mode === "navigate") event.respondWith(openPage(event, pathname));
  else if (pathname.startsWith(TOLD.static)) event.respondWith(asset(request));
});

/* Fetched past the browser's own cache, so that a release never mixes with the one before; pages come along. */
async function install() {
  const cache = await caches.open(ASSETS);
  await cache.addAll(TOLD.assets.map((address) => new Request(address, { cache: "reload" })));
  await keepPages(await keptPages());
}

async function keptPages() {
  const paths = new Set();
  for (const name of await caches.keys()) {
    if (!name.startsWith("pages-")) continue;
    for (const { url } of await (await caches.open(name)).keys()) paths.add(new URL(url).pathname);
  }
  return [...paths];
}

async function keepPages(paths) {
  const cache = await caches.open(PAGES);
  await Promise.all(paths.map((path) => renew(cache, path)));
}

async function renew(cache, path) {
  try {
    // Told what it is for, the server leaves out the messages that are meant for the person.
    const response = await fetch(path, { cache: "no-cache", headers: { Accept: "text/html", "X-Keep": "1" } });
    if (isPage(response)) await cache.put(path, response);
  } catch {
    // No signal: what is kept stays.
  }
}

function isPage(response) {
  return response.status === 200 && !response.redirected && (response.headers.get("Content-Type") ?? "").startsWith("text/html");
}

/* A page kept by the release before names that release's files: both go once this release has kept the page too. */
async function sweep() {
  const ours = new Set((await (await caches.open(PAGES)).keys()).map(({ url }) => new URL(url).pathname));
  if ((await keptPages()).some((path) => !ours.has(path))) return;
  for (const name of await caches.keys()) if (name !== ASSETS && name !== PAGES) await caches.delete(name);
}

async function asset(request) {
  const kept = await caches.match(request);
  if (kept) return kept;
  const response = await fetch(request);
  if (response.status === 200) await (await caches.open(ASSETS)).put(request, response.clone());
  return response;
}

/* The capture page is one for all places and opens at once; the other kept pages come from the server if it answers soon. */
async function openPage(event, pathname) {
  if (leaving && pathname === TOLD.sign_in) await forgetPages();
  const path = pathname.replace(CAPTURE, "$1");
  const pages = await caches.open(PAGES);
  const kept = (await pages.match(path)) ?? (await matchPage(path));
  if (kept && path.endsWith("/capture/")) {
    event.waitUntil(renew(pages, path));
    return kept;
  }
  const fresh = fromServer(event, kept ? pages : null, path);
  if (kept) return (await Promise.race([fresh, later()])) ?? kept;
  return (await fresh) ?? (await caches.match(TOLD.offline)) ?? Response.error();
}

async function matchPage(path) {
  for (const name of await caches.keys()) {
    const found = name.startsWith("pages-") ? await (await caches.open(name)).match(path) : null;
    if (found) return found;
  }
  return null;
}

/* Nothing where there is no answer, or where a kept page is better than a server in trouble. */
async function fromServer(event, pages, path) {
  try {
    const response = await fetch(event.request);
    if (!pages) return response;
    if (response.status >= 500) return null;
    if (isPage(response)) event.waitUntil(keepQuiet(pages, path, response.clone()));
    return response;
  } catch {
    return null;
  }
}

/* A page with a message of the moment on it is not kept: it would say so again and again. */
async function keepQuiet(pages, path, response) {
  const text = await response.text();
  const says = /id="messages"[^>]*>(?!<\/div>)/.test(text);
  if (!says) await pages.put(path, new Response(text, { headers: response.headers }));
}

function later() {
  return new Promise((resolve) => {
    setTimeout(resolve, PATIENCE);
  });
}

/* Whoever signs out leaves no pages behind for the next; what is not sent yet stays in the outbox. */
async function forgetPages() {
  leaving = false;
  for (const name of await caches.keys()) if (name.startsWith("pages-")) await caches.delete(name);
}
