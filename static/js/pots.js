/* The clocks of pots: each starts when hardener meets resin and runs on this phone alone, with or without signal, also over a
   reload. At its end it sounds until somebody answers. Browsers let a page sound only after it was tapped once. */

import { here, knownStatus, say, whenWords } from "./here.js";
import { newId } from "./outbox/id.js";
import { keepEvent } from "./outbox/outbox.js";
import { answerTo } from "./tap-answer.js";

const STORE = `pots:${here.project}`;
const TICK = 500;
const FORGET = 24 * 3600_000;
const WARN = 5 * 60_000;
const BEEP = 0.35;

const region = document.querySelector("[data-pots]");
const template = document.querySelector("[data-pot-template]");
const title = document.title;
const nodes = new Map();

let ahead = 0;
let memory = null;
let sound = null;
let beeping = null;

// ---- what is known ----

/* { id: the request that brings the mix, key, label, mixed, minutes, spread, silenced } by this phone's clock. */
function pots() {
  if (memory) return memory;
  try {
    const known = JSON.parse(localStorage.getItem(STORE) ?? "[]");
    return known.filter((pot) => pot.mixed > Date.now() - FORGET);
  } catch {
    return [];
  }
}

function write(all) {
  try {
    localStorage.setItem(STORE, JSON.stringify(all));
  } catch {
    // Without room the clock runs as long as the page stays open.
    memory = all;
  }
}

function change(id, facts) {
  write(pots().map((pot) => (pot.id === id ? { ...pot, ...facts } : pot)));
  draw();
}

/* What the page says of pots that the server knows; it knows best whether one is spread. */
function takeFromPage() {
  const all = pots();
  for (const { dataset } of document.querySelectorAll("[data-pot-facts]")) {
    const old = all.find((pot) => pot.id === dataset.request);
    const told = { id: dataset.request, key: dataset.id, label: dataset.label, mixed: Number(dataset.mixed) + ahead, minutes: Number(dataset.minutes), spread: Boolean(dataset.spread) || Boolean(old?.spread) };
    if (old) Object.assign(old, told);
    else if (!told.spread && told.mixed > Date.now() - FORGET) all.push(told);
  }
  write(all);
}

/**
 * Starts a clock.
 * @param {{id: string, label: string, mixed: number, minutes: number}} pot
 */
export function startPot(pot) {
  write([...pots().filter((one) => one.id !== pot.id), { ...pot, spread: false }]);
  draw();
}

// ---- drawing ----

function draw() {
  const known = pots();
  const running = known.filter((pot) => !pot.spread);
  for (const [id, node] of nodes) {
    if (running.some((pot) => pot.id === id)) continue;
    node.remove();
    nodes.delete(id);
  }
  for (const pot of running) drawPot(pot);
  if (region) region.hidden = !running.length;
  const over = running.filter((pot) => left(pot) <= 0);
  document.title = over.length ? `Pot life over · ${title}` : title;
  if (over.some((pot) => !pot.silenced)) startAlarm();
  else stopAlarm();
}

function left(pot) {
  return pot.mixed + pot.minutes * 60_000 - Date.now();
}

function drawPot(pot) {
  if (!region || !template) return;
  const node = nodes.get(pot.id) ?? made(pot);
  const rest = left(pot);
  const isOver = rest <= 0;
  node.toggleAttribute("data-over", isOver);
  node.dataset.alarm = isOver && !pot.silenced ? (sound?.state === "running" ? "sounding" : "blocked") : "quiet";
  say(node.querySelector("[data-pot-name]"), pot.label);
  say(node.querySelector("[data-pot-since]"), `mixed ${whenWords(pot.mixed)}`);
  node.querySelector("[data-pot-left]").textContent = clock(Math.abs(rest));
  say(node.querySelector("[data-pot-unit]"), isOver ? "min:s over" : "min:s left");
  say(node.querySelector("[data-pot-words]"), potWords(pot, rest));
  const button = node.querySelector("[data-pot-sound]");
  button.hidden = pot.silenced || (sound?.state === "running" && !isOver);
  say(button.querySelector("[data-pot-sound-words]"), isOver && sound?.state === "running" ? "Silence the alarm" : "Allow the alarm to sound");
}

function potWords(pot, rest) {
  const until = `Pot life ${pot.minutes} min, to ${whenWords(pot.mixed + pot.minutes * 60_000)}.`;
  if (rest <= 0) return `${until} It is over: look at what the resin maker says before more is spread.`;
  return rest < WARN ? `${until} Nearly over. A full cup is faster than a thin film.` : `${until} For an alarm only; the maker's sheet wins.`;
}

function made(pot) {
  const node = template.content.firstElementChild.cloneNode(true);
  node.dataset.pot = pot.id;
  node.querySelector("[data-pot-spread]").addEventListener("click", () => spread(pot.id));
  node.querySelector("[data-pot-sound]").addEventListener("click", () => {
    const known = pots().find((one) => one.id === pot.id);
    const sounds = sound?.state === "running" && known && left(known) <= 0;
    allowSound();
    if (sounds) change(pot.id, { silenced: true });
  });
  nodes.set(pot.id, node);
  region.append(node);
  return node;
}

function clock(ms) {
  const seconds = Math.floor(ms / 1000);
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

// ---- taps ----

async function spread(id) {
  const pot = pots().find((one) => one.id === id);
  change(id, { spread: true });
  if (!pot) return;
  const item = await keepEvent({ ...here, id: newId(), kind: "mix_spread", fields: { mix: pot.key ?? pot.id }, label: `Pot finished: ${pot.label}` });
  const answered = await answerTo(item);
  if (answered?.state === "sent") location.reload();
}

// ---- sound ----

/** Lets the page sound; called from a tap, since browsers ask for one. */
export function allowSound() {
  try {
    sound ??= new AudioContext();
    sound.resume().then(draw, () => {});
  } catch {
    // No sound here: the clock on the page has to do.
  }
}

function startAlarm() {
  if (beeping || !sound || sound.state !== "running") return;
  beep(false);
  beeping = setInterval(() => beep(true), BEEP * 2000);
}

function stopAlarm() {
  clearInterval(beeping);
  beeping = null;
}

/* Two tones in turn, square and loud, to be heard over a compressor. */
function beep(again) {
  const now = sound.currentTime;
  for (const [at, tone] of [[0, 880], [BEEP, 660]]) {
    const voice = sound.createOscillator();
    const loud = sound.createGain();
    voice.type = "square";
    voice.frequency.value = tone;
    loud.gain.value = 0.9;
    voice.connect(loud).connect(sound.destination);
    voice.start(now + at);
    voice.stop(now + at + BEEP * 0.9);
  }
  navigator.vibrate?.(again ? [300, 200] : [600]);
}

addEventListener("pointerdown", () => allowSound(), { capture: true });
addEventListener("storage", (event) => event.key === STORE && draw());
document.addEventListener("visibilitychange", () => document.hidden || draw());
for (const form of document.querySelectorAll("[data-without-pots]")) if (document.querySelector("[data-pot-facts]")) form.hidden = true;

const status = await knownStatus();
if (status) ahead = status.at - status.now;
takeFromPage();
draw();
setInterval(draw, TICK);
