/* "Kept on this phone": what the server does not have yet, and apart from it what the server has. The first comes from this
   phone's store, the second from what the server last said; neither is ever shown for the other. */

import { here, itemsHere, knownStatus, say, showMark, whenWords } from "./here.js";
import { onChange } from "./outbox/changes.js";
import { isOpen, putBack, retag, summary, tryAgain, undo } from "./outbox/outbox.js";
import { flush, look } from "./outbox/sender.js";
import { sizeWords } from "./outbox/state.js";
import { openStore } from "./outbox/store.js";

const SOON = 200;
const AFTER_SENDING = 1_000;
const STAYS = "Yes, the browser promised not to clear it by itself.";
const MAY_GO =
  "Not promised: a browser may clear a site that has not been opened for a week, or when the phone runs short of room. Send soon.";
const page = document.querySelector("[data-kept-page]");
const template = page.querySelector("[data-row]");
const rows = new Map();
let reach = "";

const part = (name) => page.querySelector(`[data-${name}]`);

/** Which list an item stands in; "" for none. */
function listOf(item) {
  if (item.state === "undone" || item.withdrawn) return "off";
  if (item.state === "sent") return "sent";
  return item.state === "refused" || item.state === "held" || isLost(item) ? "stuck" : "waiting";
}

function isLost(item) {
  return Boolean(item.in_memory) || item.file?.kept === false;
}

async function draw() {
  const items = await itemsHere();
  const counted = summary(items);
  drawTotal(counted, items);
  for (const name of ["stuck", "waiting", "off", "sent"]) drawList(name, items.filter((item) => listOf(item) === name));
  forgetRows(items);
  await drawServer();
  await drawRoom();
}

function drawTotal({ count, bytes, since }, items) {
  part("count").textContent = String(count);
  const size = bytes ? `, ${sizeWords(bytes)}` : "";
  part("count-words").textContent = count ? `not on the server yet${size}` : "Nothing here waits for the server.";
  say(part("since"), count ? `The oldest is from ${whenWords(since)}. Do not clear this browser's data before it is sent.` : "");
  say(part("reach"), reachWords(count));
  part("send-all").hidden = !items.some(isOpen) || reach === "signed-out";
  part("sign-in").hidden = reach !== "signed-out";
}

function reachWords(count) {
  if (reach === "unreachable") return count ? "No signal. It is sent by itself when there is." : "No signal.";
  if (reach === "signed-out") return "You are signed out. What is kept here stays and goes when you have signed in.";
  return "";
}

function drawList(name, items) {
  const section = page.querySelector(`[data-list="${name}"]`);
  section.hidden = !items.length;
  say(section.querySelector("[data-list-count]") ?? document.createElement("p"), String(items.length));
  const list = section.querySelector("ul");
  const ordered = name === "sent" ? items.toReversed() : items;
  for (const [at, item] of ordered.entries()) {
    const row = rows.get(item.id) ?? begin(item);
    drawRow(row, item, name);
    // A row that stands right already is left alone, so that a finger or the focus on it stays.
    if (list.children[at] !== row) list.insertBefore(row, list.children[at] ?? null);
  }
}

function forgetRows(items) {
  const known = new Set(items.map((item) => item.id));
  for (const [id, row] of rows) {
    if (known.has(id)) continue;
    row.remove();
    rows.delete(id);
  }
}

function begin(item) {
  const row = template.content.firstElementChild.cloneNode(true);
  rows.set(item.id, row);
  row.dataset.id = item.id;
  row.dataset.kind = item.kind;
  showMark(row, markOf(item));
  if (item.file) near.observe(row);
  row.addEventListener("click", (event) => act(item.id, event.target.closest("button[data-act]")?.dataset.act));
  return row;
}

function markOf({ file }) {
  if (!file) return "text";
  return { video: "video", audio: "sound" }[file.type.split("/")[0]] ?? "photo";
}

/* Pictures are read when their row comes near the screen: a queue may hold hundreds. */
const near = new IntersectionObserver((seen) => {
  for (const { target, isIntersecting } of seen) {
    if (!isIntersecting) continue;
    near.unobserve(target);
    showPicture(target);
  }
}, { rootMargin: "400px" });

async function showPicture(row) {
  const item = await (await openStore()).get(row.dataset.id);
  if (!item || /^(video|audio)\//.test(item.file.type)) return;
  const blob = await (await openStore()).bytes(item.id);
  const address = blob ? URL.createObjectURL(blob) : item.answer?.thumb;
  if (!address) return;
  const image = row.querySelector("img");
  const done = () => blob && URL.revokeObjectURL(address);
  image.onload = () => {
    image.hidden = false;
    showMark(row, "");
    done();
  };
  image.onerror = done;
  image.decoding = "async";
  image.src = address;
}

function drawRow(row, item, list) {
  const words = (name, text) => say(row.querySelector(`[data-${name}]`), text);
  row.classList.toggle("stuck", list === "stuck");
  row.dataset.state = item.state;
  words("label", item.label);
  words("taken", takenWords(item));
  words("tries", triesWords(item, list));
  words("trouble", list === "stuck" || list === "waiting" ? item.trouble : "");
  drawActs(row, item, list);
}

function takenWords({ file, happened, answer, state, sent_at: sent }) {
  const camera = file?.camera?.clock ? `Taken ${file.camera.clock.replace(/^(\d+):(\d+):(\d+) (\d+:\d+).*/, "$1-$2-$3, $4")} by the camera. ` : "";
  const kept = `${camera}Kept ${whenWords(happened)}${file ? `, ${sizeWords(file.size)}` : ""}`;
  return state === "sent" ? `${kept}. On the server ${whenWords(sent)}${answer?.label ? ` as ${answer.label}` : ""}` : kept;
}

function triesWords({ tries, next_try: next, state }, list) {
  if (list !== "waiting") return "";
  if (state === "sending") return "Being sent";
  if (!tries) return "Not tried yet";
  const again = next > Date.now() ? `, again at ${whenWords(next)}` : "";
  return `${tries === 1 ? "Tried once" : `Tried ${tries} times`}${again}`;
}

function drawActs(row, item, list) {
  const open = list === "stuck" || list === "waiting";
  const shown = {
    send: open && !item.in_memory,
    tray: list === "stuck" && item.state === "refused" && item.kind === "photo" && Boolean(item.fields.place),
    copy: list !== "sent" && Boolean(item.file ?? item.pairs),
    off: open,
    back: list === "off",
    open: list === "sent" && Boolean(item.answer?.page),
  };
  for (const button of row.querySelectorAll("[data-act]")) {
    button.hidden = !shown[button.dataset.act];
    button.setAttribute("aria-label", `${button.textContent}: ${item.label}`);
  }
  row.querySelector("[data-acts]").hidden = !Object.values(shown).some(Boolean);
  if (shown.open) row.querySelector("a[data-act]").href = item.answer.page;
}

async function act(id, what) {
  if (what === "send") await tryAgain(id);
  if (what === "tray") {
    await retag(id, { place: "" });
    await tryAgain(id);
  }
  if (what === "copy") await saveCopy(id);
  if (what === "off") await undo(id);
  if (what === "back") await putBack(id);
}

/* The bytes as they are; of a session its fields. */
async function saveCopy(id) {
  const store = await openStore();
  const item = await store.get(id);
  const blob = item.file ? await store.bytes(id) : new Blob([JSON.stringify(item.pairs, null, 2)], { type: "application/json" });
  if (!blob) return;
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = item.file?.name || `${item.kind}-${new Date(item.happened).toISOString().slice(0, 10)}.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

async function drawServer() {
  const status = await knownStatus();
  if (!status) return;
  const { photos, bytes, last_received: last } = status.kept;
  part("server-photos").textContent = `${photos} in ${status.project.name}${bytes ? `, ${sizeWords(bytes)}` : ""}`;
  part("server-last").textContent = last ? whenWords(last) : "Nothing yet";
  part("server-at").textContent = `${whenWords(status.at)}${reach === "unreachable" ? ", when there was signal last" : ""}`;
}

async function drawRoom() {
  const { usage, quota } = (await navigator.storage?.estimate?.().catch(() => null)) ?? {};
  if (Number.isFinite(usage)) part("used").textContent = sizeWords(usage);
  if (Number.isFinite(quota)) part("free").textContent = sizeWords(Math.max(0, quota - usage));
  const store = await openStore();
  const stays = await navigator.storage?.persisted?.().catch(() => false);
  part("stays").textContent = store.persistent ? (stays ? STAYS : MAY_GO) : "No: this browser keeps nothing for this site. Do not close the page before all is sent.";
  part("ask-to-stay").hidden = stays || !navigator.storage?.persist || !store.persistent;
}

async function askToStay() {
  const stays = await navigator.storage.persist().catch(() => false);
  const where = "Adding this site to the home screen makes it more likely.";
  part("asked").textContent = stays ? "The browser will keep it." : `The browser does not promise it. ${where}`;
  await drawRoom();
}

/* What arrived is in the server's own count only when the server has been asked again. */
let later = 0;
function askLater() {
  clearTimeout(later);
  later = setTimeout(() => look(here.url), AFTER_SENDING);
}

let soon = 0;
function drawSoon(news) {
  if (news.why === "sent") askLater();
  if (news.why === "progress") return drawProgress(news);
  if (news.why === "status" && news.url === here.url) reach = news.outcome;
  soon ||= setTimeout(() => {
    soon = 0;
    draw();
  }, SOON);
}

function drawProgress({ id, share }) {
  const row = rows.get(id);
  if (row?.dataset.state === "sending") say(row.querySelector("[data-tries]"), `${Math.floor(share * 100)} % sent`);
}

for (const node of page.querySelectorAll("[data-with-script]")) node.hidden = false;
for (const node of page.querySelectorAll("[data-without-script]")) node.hidden = true;
part("send-all").addEventListener("click", async () => {
  await tryAgain();
  flush();
});
part("ask-to-stay").addEventListener("click", askToStay);
onChange(drawSoon);
await draw();
reach = (await look(here.url, undefined, 5_000)).outcome;
await draw();
