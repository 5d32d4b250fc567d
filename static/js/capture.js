/* The capture page: a photo is kept on this phone the moment it is taken, on the place of last time unless somebody says
   otherwise. The same page serves every label; which one was scanned stands in the address. */

import { here, itemsHere, knownStatus, say, whenWords } from "./here.js";
import { onChange } from "./outbox/changes.js";
import { keepPhoto, pendingTimers, summary } from "./outbox/outbox.js";
import { sizeWords } from "./outbox/state.js";
import { openStore } from "./outbox/store.js";
import { PlaceList } from "./place-list.js";
import { nextPlace, placesOf, placeWords } from "./places.js";
import { nounOf, Shot } from "./shot.js";

const CHOSEN = `place:${here.project}`;
const LATELY = 30 * 60_000;
const MOST_LATELY = 6;
const SOON = 150;

const label = /\/capture\/([^/]+)\/$/.exec(location.pathname)?.[1] ?? "";
const form = document.querySelector("[data-take-form]");
const cards = document.querySelector("[data-cards]");
const template = document.querySelector("[data-card-template]");
const shots = new Map();

let status = null;
let places = placesOf(null);
let timer = null;
let next = { key: label, why: "" };
let saidHere = false;
let soon = 0;

const list = new PlaceList({
  box: document.querySelector("[data-places]"),
  button: document.querySelector("[data-change]"),
  row: document.querySelector("[data-row-template]"),
  chosen: (key) => {
    next = { key, why: key ? "Chosen now" : "It waits in the tray until you say where it belongs" };
    saidHere = true;
    rememberPlace();
    drawPlace();
  },
});

/* What the status says, or before the first one the list that the page itself brought. */
async function know() {
  status = await knownStatus();
  places = placesOf(status ?? { places: { assemblies: namesOnPage() } });
  const timers = pendingTimers(await itemsHere(), status?.timers ?? [], status?.at);
  timer = timers.find((one) => one.mine) ?? null;
  const chosen = await (await openStore()).recall(CHOSEN);
  if (!saidHere) next = nextPlace({ label, chosen, timer, last: status?.last_place ?? null });
  drawPlace();
  drawTimer();
}

function namesOnPage() {
  const options = [...document.querySelectorAll("[data-assemblies] option")].filter((option) => option.value);
  return options.map(({ value, text }) => {
    const [number, ...name] = text.trim().split(" ");
    return { key: value, number, name: name.join(" "), depth: text.length - text.trimStart().length };
  });
}

function rememberPlace() {
  return openStore().then((store) => store.remember(CHOSEN, { key: next.key, at: Date.now() }));
}

function drawPlace() {
  const box = document.querySelector("[data-place]");
  const place = places.get(next.key);
  const number = Object.assign(document.createElement("span"), { className: "asm-no", textContent: place?.number ?? "" });
  const words = place ? ` ${place.name}` : next.key ? "A place that this phone does not know yet" : "No place yet, to the tray";
  if (box.textContent !== `${number.textContent}${words}`) box.replaceChildren(...(place ? [number] : []), words);
  say(document.querySelector("[data-place-why]"), next.why);
  drawLacking(place);
  list.know({ places, recent: status?.recent ?? [], current: next.key });
}

/* Where to see what still has to be photographed there. A bin or a lot lacks nothing. */
function drawLacking(place) {
  const link = document.querySelector(".lacking");
  const pages = { assembly: link.dataset.lackingAssembly, part: link.dataset.lackingPart };
  link.hidden = !pages[place?.kind];
  if (!link.hidden) link.href = pages[place.kind].replace("KEY", place.key);
}

function drawTimer() {
  const line = document.querySelector("[data-timer]");
  line.hidden = !timer;
  if (!timer) return;
  const on = placeWords(places, timer.assembly);
  line.querySelector("[data-timer-words]").textContent = `The timer runs on ${on} since ${whenWords(timer.started)}. Photos go with it.`;
}

/* One after the other, so that many files never lie in memory at once. The next photo can be taken meanwhile. */
async function take(files) {
  for (const file of files) await takeOne(file);
}

async function takeOne(file) {
  const { key } = next;
  const shot = addShot(file);
  cards.prepend(shot.node);
  openNewest(shot);
  shot.picture(file);
  const noun = nounOf(file.type);
  const words = `${noun[0].toUpperCase()}${noun.slice(1)} ${key ? `on ${placeWords(places, key)}` : "without a place"}`;
  try {
    const { item } = await keepPhoto({ ...here, file, fields: { place: key }, into: timer?.request_id, label: words });
    shots.set(item.id, shot);
    await shot.become(item);
  } catch (trouble) {
    shot.fail(trouble.message);
  }
  await rememberPlace();
}

function addShot() {
  return new Shot({ template, where: (item) => placeWords(places, item.fields.place), most: status?.limits });
}

/* The tags of the newest are open; older ones fold up so that the page stays short. */
function openNewest(shot) {
  for (const tags of cards.querySelectorAll("[data-tags][open]")) if (!tags.contains(document.activeElement)) tags.open = false;
  shot.part("tags").open = true;
}

/* What was taken a little while ago stands here again after the phone has thrown the page away. */
async function showLately() {
  const since = Date.now() - LATELY;
  const store = await openStore();
  const lately = (await itemsHere()).filter((item) => item.kind === "photo" && item.happened > since && item.state !== "undone");
  for (const item of lately.slice(-MOST_LATELY)) {
    if (shots.has(item.id)) continue;
    const shot = addShot();
    shots.set(item.id, shot);
    cards.prepend(shot.node);
    await shot.become(item);
    const blob = await store.bytes(item.id);
    if (blob) shot.picture(blob);
    else if (item.answer?.thumb) shot.load(item.answer.thumb);
  }
}

async function drawSummary() {
  const { count, bytes, unkept } = summary(await itemsHere());
  const size = bytes ? `, ${sizeWords(bytes)}` : "";
  const waits = unkept ? `Not sent yet: ${count}${size}, of which ${unkept} only in this page` : `Kept on this phone, not sent yet: ${count}${size}`;
  const words = count ? waits : "What is kept on this phone";
  document.querySelector("[data-kept-summary]").textContent = words;
}

async function heard({ why, id, share }) {
  const shot = shots.get(id);
  if (why === "progress") return shot?.sending(share);
  const item = shot && (await (await openStore()).get(id));
  if (item) shot.draw(item);
  soon ||= setTimeout(async () => {
    soon = 0;
    await know();
    await drawSummary();
  }, SOON);
}

form.classList.add("live");
for (const node of document.querySelectorAll("[data-without-script]")) node.hidden = true;
for (const input of document.querySelectorAll("[data-take]")) {
  input.addEventListener("change", () => {
    const files = [...input.files];
    input.value = "";
    take(files);
  });
}
onChange(heard);
// On a phone without any room nothing else can say that a photo was sent: there is no item of it any more.
document.addEventListener("outbox:sent", ({ detail: { item } }) => shots.get(item.id)?.draw(item));
await know();
await showLately();
await drawSummary();
