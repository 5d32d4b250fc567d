/* Signing with a finger. The strokes are kept as whole numbers in thousandths of the pad's width; calc/strokes.py reads
   them. Nothing of speed or pressure is noted. Without this script the name is typed. */

const WIDTH = 1000;
const NEAR = 3;
const MOST_STROKES = 60;
const MOST_POINTS = 4000;
const LEAST_LENGTH = 200;

const form = document.querySelector("form[data-sign]");
const pad = form.querySelector("[data-pad]");
const path = pad.querySelector("path");
const field = form.elements.strokes;
const clear = form.querySelector("[data-pad-clear]");
let strokes = [];
let now = null;

const pointCount = () => strokes.reduce((sum, stroke) => sum + stroke.length / 2, 0);

function lengthOf(stroke) {
  let sum = 0;
  for (let at = 2; at < stroke.length; at += 2) sum += Math.hypot(stroke[at] - stroke[at - 2], stroke[at + 1] - stroke[at - 1]);
  return sum;
}

const isEnough = () => strokes.reduce((sum, stroke) => sum + lengthOf(stroke), 0) >= LEAST_LENGTH;

function lineOf(stroke) {
  const rest = stroke.length > 2 ? stroke.slice(2) : stroke;
  return `M${stroke[0]} ${stroke[1]}L${rest.join(" ")}`;
}

function draw() {
  path.setAttribute("d", strokes.map(lineOf).join(""));
  pad.setAttribute("aria-label", strokes.length ? "Your signature, drawn" : "Nothing drawn yet");
  clear.hidden = !strokes.length;
}

/* Where a pointer is on the pad. One that leaves it is held at its edge. */
function place(event) {
  const box = pad.getBoundingClientRect();
  const inner = [event.clientX - box.left - pad.clientLeft, event.clientY - box.top - pad.clientTop];
  const tall = Math.round((pad.clientHeight / pad.clientWidth) * WIDTH);
  const [x, y] = inner.map((value) => Math.round((value / pad.clientWidth) * WIDTH));
  return [Math.min(WIDTH, Math.max(0, x)), Math.min(tall, WIDTH, Math.max(0, y))];
}

function begin(event) {
  if (now || (event.pointerType === "mouse" && event.button !== 0) || strokes.length >= MOST_STROKES) return;
  event.preventDefault();
  pad.setPointerCapture(event.pointerId);
  now = { pointer: event.pointerId, stroke: place(event) };
  strokes.push(now.stroke);
  draw();
}

function move(event) {
  if (event.pointerId !== now?.pointer) return;
  const events = event.getCoalescedEvents?.() ?? [];
  for (const one of events.length ? events : [event]) add(place(one));
  draw();
}

function add([x, y]) {
  const { stroke } = now;
  if (Math.hypot(x - stroke.at(-2), y - stroke.at(-1)) >= NEAR && pointCount() < MOST_POINTS) stroke.push(x, y);
}

function stop(event) {
  if (event.pointerId !== now?.pointer) return;
  now = null;
  tell();
}

function tell() {
  field.value = strokes.length ? JSON.stringify(strokes) : "";
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

/* What was drawn before the page was shown again, by the server or from this phone's draft. */
function restore() {
  try {
    const kept = JSON.parse(field.value || "[]");
    const isOurs = Array.isArray(kept) && kept.every((stroke) => Array.isArray(stroke) && stroke.every(Number.isInteger) && stroke.length > 1);
    strokes = isOurs ? kept : [];
  } catch {
    strokes = [];
  }
  draw();
}

function wipe() {
  strokes = [];
  draw();
  tell();
}

/* ---- the Sign place: a sentence until nothing is missing ---- */

const words = (list) => (list.length > 1 ? `${list.slice(0, -1).join(", ")} and ${list.at(-1)}` : list[0]);

function lacksOf(accepting) {
  const lacks = [];
  const things = [...form.querySelectorAll("input[name=things]")];
  if (things.length && !things.some((one) => one.checked)) lacks.push("choose what you sign");
  if (!form.elements.name.value.trim()) lacks.push("give your name");
  if (!form.elements.capacity.value.trim()) lacks.push("say as what you sign");
  if (!form.elements.extent.value.trim()) lacks.push("say what you inspected");
  if (!isEnough() && !form.elements.typed.value.trim()) lacks.push("sign with a finger or type your name");
  if (accepting && !form.elements.agreed.checked) lacks.push("tick the statement");
  if (!accepting && !form.elements.reason.value.trim()) lacks.push("say what is not accepted");
  return lacks;
}

function show(name, accepting, then) {
  const place = form.querySelector(`[data-${name}-lacks]`);
  if (!place) return;
  const lacks = lacksOf(accepting);
  const text = lacks.length ? `To ${then}, ${words(lacks)}.` : "";
  if (place.textContent !== text) place.textContent = text;
  place.hidden = !lacks.length;
  form.querySelector(`[data-${name}-button]`).hidden = lacks.length > 0;
}

function showAll() {
  show("sign", true, "sign as accepted");
  show("refuse", false, "sign as not accepted");
}

pad.hidden = false;
form.querySelector("[data-without-script]").hidden = true;
restore();
showAll();
pad.addEventListener("pointerdown", begin);
pad.addEventListener("pointermove", move);
for (const name of ["pointerup", "pointercancel", "lostpointercapture"]) pad.addEventListener(name, stop);
// Over the pad a finger draws and never scrolls, also where touch-action is not known.
pad.addEventListener("touchmove", (event) => event.preventDefault(), { passive: false });
clear.addEventListener("click", wipe);
form.addEventListener("input", showAll);
form.addEventListener("change", showAll);
form.addEventListener("draft:put", () => {
  restore();
  showAll();
});
