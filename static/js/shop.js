/* The shop page: a tap on a timer is kept on this phone first and then sent. Where the server answers at once the page goes
   on as it does without a script; where it does not, the page shows what was tapped and works on. */

import { here, itemsHere, knownStatus, say, showMark, whenWords } from "./here.js";
import { drawOnChange } from "./outbox/changes.js";
import { keepEvent, keepPhoto, pendingTimers, undo } from "./outbox/outbox.js";
import { flush } from "./outbox/sender.js";
import { openStore } from "./outbox/store.js";
import { placesOf } from "./places.js";
import { answerTo } from "./tap-answer.js";
import { keptOf, photosWords, refusedTaps, stoppedOnes } from "./timer-words.js";

const OLD = 60_000;
const LABELS = { timer_start: "Timer started", timer_stop: "Timer stopped", timer_break: "Break started", timer_on: "Break ended" };

const opened = Date.now();
const shop = document.querySelector("[data-shop]");
const region = shop.querySelector("[data-live-region]");
const idle = shop.querySelector("[data-idle]");
const served = [...shop.querySelectorAll("section[data-request]")];
const live = new Map();
const takenHere = new Set();

let places = placesOf(null);
let outcome = "";
let busy = false;
let shown = [];

// ---- what is true now ----

/* The server's timers as the newer of page and status has them, and by this phone's clock as of when. */
function basis(status) {
  const ahead = status ? status.at - status.now : 0;
  const page = { at: Number(shop.dataset.servedAt) + ahead, timers: served.map(timerOnPage) };
  return { page: page.at, ...(status && status.at > page.at ? { at: status.at, timers: status.timers } : page) };
}

function timerOnPage({ dataset }) {
  return {
    session: dataset.timer,
    request_id: dataset.request,
    assembly: dataset.assembly,
    started: Number(dataset.started),
    break_since: dataset.breakSince ? Number(dataset.breakSince) : null,
    off_seconds: Number(dataset.offSeconds),
    people: [],
    mine: "mine" in dataset,
  };
}

async function draw() {
  if (busy) return;
  const status = await knownStatus();
  if (status) places = placesOf(status);
  const items = await itemsHere();
  const { page, at, timers } = basis(status);
  shown = pendingTimers(items, timers, at);
  const standing = served.filter((section) => shown.some((timer) => isAsServed(section, timer)));
  for (const section of served) section.hidden = !standing.includes(section);
  const drawn = shown.filter((timer) => !served.some((section) => isAsServed(section, timer)));
  const runs = shown.some((timer) => timer.mine);
  const nodes = [
    ...refusedTaps(items).map(drawRefused),
    ...stoppedOnes(items, opened).map(drawStopped),
    ...drawn.map((timer) => drawTimer(timer, items)),
    ...(runs || idle ? [] : [drawIdle(status)]),
  ];
  if (idle) idle.hidden = runs;
  put(nodes);
  drawRows(runs);
  drawPhotos(items);
  drawAsOf(page);
  document.dispatchEvent(new Event("timers:shown"));
}

function isAsServed({ dataset }, timer) {
  return !timer.pending && dataset.request === timer.request_id && Boolean(dataset.breakSince) === (timer.break_since !== null);
}

/* Nothing is taken out of the page again: the camera may be open on what stands in it. */
function put(nodes) {
  for (const node of live.values()) node.hidden = !nodes.includes(node);
  for (const node of nodes) if (!node.isConnected) region.append(node);
  region.hidden = !nodes.length;
}

function made(id, name) {
  if (!live.has(id)) {
    const node = document.querySelector(`template[data-live="${name}"]`).content.firstElementChild.cloneNode(true);
    for (const hidden of node.querySelectorAll("[data-photo-here], [data-at-timer]")) hidden.hidden = false;
    live.set(id, node);
  }
  return live.get(id);
}

// ---- drawing ----

function drawTimer(timer, items) {
  const node = made(`timer ${timer.request_id}`, "running");
  const paused = timer.break_since !== null;
  Object.assign(node.dataset, { request: timer.request_id, session: timer.session, assembly: timer.assembly, started: timer.started });
  node.toggleAttribute("data-mine", timer.mine);
  node.classList.toggle("paused", paused);
  showMark(node.querySelector(".state"), paused ? "pause" : "work");
  node.querySelector("[data-state]").textContent = paused ? "On a break" : "Running";
  node.querySelector("[data-since]").textContent = `since ${whenWords(timer.started)}`;
  name(node, timer.assembly);
  say(node.querySelector("[data-who]"), timer.people.join(", "));
  const kept = keptOf(timer, items);
  say(node.querySelector("[data-kept]"), kept);
  node.querySelector(".kept-here").hidden = !kept;
  node.querySelector("[data-tap=timer_break]").hidden = paused;
  node.querySelector("[data-tap=timer_on]").hidden = !paused;
  drawElapsed(node.querySelector("time"), timer);
  return node;
}

/* On a break the figure stands still where the break began. */
function drawElapsed(time, timer) {
  time.dataset.elapsedFrom = new Date(timer.started).toISOString();
  const paused = timer.break_since === null ? 0 : Math.max(0, (Date.now() - timer.break_since) / 1000);
  time.dataset.elapsedLess = String(timer.off_seconds + paused);
}

function drawIdle(status) {
  const node = made("idle", "idle");
  const worked = served.find((section) => "mine" in section.dataset)?.dataset.assembly ?? status?.recent?.[0];
  node.dataset.assembly = worked ?? rows()[0]?.dataset.assembly ?? "";
  node.querySelector("[data-state]").textContent = "Nothing running";
  name(node, node.dataset.assembly);
  return node;
}

function drawStopped({ item, sent, words }) {
  const node = made(item.id, "stopped");
  node.classList.toggle("waiting", !sent);
  showMark(node, sent ? "sent" : "waiting");
  say(node.querySelector("[data-name]"), item.label);
  say(node.querySelector("[data-words]"), words);
  const button = node.querySelector("[data-undo]");
  button.hidden = sent;
  button.onclick = () => undo(item.id);
  const link = node.querySelector("[data-describe]");
  link.hidden = !sent || !item.answer?.session;
  if (!link.hidden) link.href = describePage(item.answer.session);
  return node;
}

function drawRefused(item) {
  const node = made(item.id, "refused");
  say(node.querySelector("[data-name]"), `Not taken: ${item.label}`);
  say(node.querySelector("[data-words]"), item.trouble);
  node.querySelector("[data-undo]").onclick = () => undo(item.id);
  return node;
}

function named(key) {
  const row = [...served, ...rows(), ...(idle ? [idle] : [])].find(({ dataset }) => dataset.assembly === key)?.dataset;
  return places.get(key) ?? row ?? { number: "", name: "an assembly" };
}

function name(node, key) {
  const place = named(key);
  node.querySelector("[data-number]").textContent = place.number;
  node.querySelector("[data-name]").textContent = place.name;
  const more = node.querySelector("[data-more]");
  more.href = key ? `${shop.dataset.capture}${key}/` : shop.dataset.capture;
}

function rows() {
  return [...shop.querySelectorAll("[data-row]")];
}

function drawRows(runs) {
  for (const node of shop.querySelectorAll("[data-when]")) node.hidden = (node.dataset.when === "running") !== runs;
  const above = runs ? shown.filter((timer) => timer.mine).map((timer) => timer.assembly) : [(idle ?? live.get("idle")).dataset.assembly];
  for (const row of rows()) row.hidden = above.includes(row.dataset.assembly);
}

function drawPhotos(items) {
  for (const line of shop.querySelectorAll("[data-photos-line]")) {
    const { request, assembly } = line.closest("section").dataset;
    const belongs = (item) => (request ? item.fields.session === request : takenHere.has(item.id) && item.fields.place === assembly);
    const photos = items.filter((item) => item.kind === "photo" && item.state !== "undone" && !item.withdrawn && belongs(item));
    const words = photosWords(photos.filter((item) => item.state !== "sent" || item.sent_at >= opened));
    if (line.textContent !== words) line.textContent = words;
  }
}

/* A page that the phone had kept says as of when it stands, and leads to a fresh one once there is signal. */
function drawAsOf(at) {
  const line = document.querySelector("[data-as-of]");
  if (opened - at < OLD && !(outcome === "unreachable" && Date.now() - at > OLD)) return;
  // What the page had to say when it was made is no news any more.
  if (opened - at > OLD) document.getElementById("messages")?.replaceChildren();
  line.replaceChildren(`As it stood at ${whenWords(at)}`);
  if (outcome !== "here") return;
  const link = Object.assign(document.createElement("a"), { className: "reach", href: location.pathname, textContent: "Show it as it is now" });
  line.append(". ", link);
}

// ---- taps ----

async function tap(kind, node) {
  if (busy) return;
  busy = true;
  node.setAttribute("aria-busy", "true");
  const about = node.closest("[data-request], [data-assembly]").dataset;
  const fields = kind === "timer_start" ? { assembly: about.assembly } : { session: about.request };
  const item = await keepEvent({ ...here, kind, fields, label: labelOf(kind, about) });
  if (outcome === "unreachable") flush();
  const answered = outcome === "unreachable" ? null : await answerTo(item);
  // While the next page comes this one stays as it is: a tap on what it is about to become would be lost with it.
  if (answered?.state === "sent") return goOn(kind, answered.answer, "mine" in about);
  atEase(node);
  await draw();
}

function atEase(node) {
  busy = false;
  node?.removeAttribute("aria-busy");
}

function labelOf(kind, { assembly, started }) {
  const { number, name: words } = named(assembly);
  const times = kind === "timer_stop" && started ? ` (${whenWords(Number(started))} to ${whenWords(Date.now())})` : "";
  return `${LABELS[kind]} on ${number} ${words}${times}`;
}

function goOn(kind, { session, page }, mine) {
  if (kind !== "timer_stop" || !session) location.reload();
  else location.assign(mine || !page ? describePage(session) : page);
}

function describePage(session) {
  return shop.dataset.describe.replace("KEY", session);
}

// ---- photos ----

async function take(input) {
  const files = [...input.files];
  input.value = "";
  const { assembly, request } = input.closest("section").dataset;
  const { number, name: words } = named(assembly);
  for (const file of files) {
    try {
      const { item } = await keepPhoto({ ...here, file, fields: { place: assembly }, into: request, label: `Photo on ${number} ${words}` });
      takenHere.add(item.id);
    } catch (trouble) {
      input.closest("section").querySelector("[data-photos-line]").textContent = trouble.message;
      return;
    }
  }
  await (await openStore()).remember(`place:${here.project}`, { key: assembly, at: Date.now() });
  await draw();
}

for (const node of shop.querySelectorAll("[data-photo-here], [data-at-timer]")) node.hidden = false;
for (const node of shop.querySelectorAll("[data-without-script]")) node.hidden = true;
shop.addEventListener("submit", (event) => {
  const kind = event.target.dataset.tap;
  if (!kind) return;
  event.preventDefault();
  tap(kind, event.submitter ?? event.target);
});
shop.addEventListener("click", (event) => {
  const button = event.target.closest("button[type=button][data-tap]");
  if (button) tap(button.dataset.tap, button);
});
shop.addEventListener("change", (event) => event.target.matches("[data-take]") && take(event.target));
drawOnChange(draw, (news) => {
  if (news.why === "status" && news.url === here.url) outcome = news.outcome;
});
addEventListener("pageshow", ({ persisted }) => {
  if (!persisted) return;
  atEase(shop.querySelector("[aria-busy]"));
  draw();
});
await draw();
