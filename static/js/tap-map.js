/* Marking what was heard over a photo. The list below the picture is the truth: it is what is sent, and it works alone. */

const SVG = "http://www.w3.org/2000/svg";
const NEAR = 22; // px about a mark that a finger means it
const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

const form = document.querySelector("[data-taps]");
const list = form.querySelector("[data-rows]");
const canvas = form.querySelector("[data-canvas]");
const layer = canvas?.querySelector(".tap-layer");
const says = form.querySelector("[data-says]");
let sound = form.querySelector("[data-sound]")?.dataset.sound ?? "dull";
let dirty = false;

const rows = () => [...list.querySelectorAll("[data-row]")];
const field = (row, name) => row.querySelector(`[name=${name}]`);
const percent = (row, name) => Math.min(100, Math.max(0, Number(field(row, name).value.replace(",", ".").replace("%", "")) || 0));
const say = (text) => says && (says.textContent = text);
const wordOf = (value) => form.querySelector(`[data-sound="${value}"]`)?.textContent.trim() ?? value;

function shape(name, values) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(values)) node.setAttribute(key, value);
  return node;
}

function draw() {
  rows().forEach((row, at) => row.querySelectorAll("[data-n]").forEach((node) => (node.textContent = at + 1)));
  form.querySelector("[data-none]").hidden = rows().length > 0;
  if (!layer) return;
  layer.replaceChildren();
  rows().forEach((row, at) => {
    const heard = field(row, "sound").value;
    if (!heard) return;
    const mark = shape("svg", { x: `${percent(row, "x")}%`, y: `${percent(row, "y")}%` });
    const number = shape("text", { x: 13, y: -7 });
    number.textContent = at + 1;
    mark.append(shape("use", { href: `#tap-${heard}` }), number);
    layer.append(mark);
  });
}

function put(row, x, y) {
  const said = (value) => String(Math.round(Math.min(100, Math.max(0, value)) * 10) / 10);
  field(row, "x").value = said(x);
  field(row, "y").value = said(y);
  dirty = true;
  draw();
}

function add(x, y) {
  const row = form.querySelector("[data-row-template]").content.cloneNode(true).querySelector("[data-row]");
  field(row, "sound").value = sound;
  row.querySelector("[data-with-script]").hidden = false;
  list.append(row);
  put(row, x, y);
  say(`Mark ${rows().length}: ${wordOf(sound).toLowerCase()}. Tap the next place, or keep what was heard.`);
  return row;
}

function at(event) {
  const box = canvas.getBoundingClientRect();
  const x = event.clientX - box.left;
  const y = event.clientY - box.top;
  const held = rows().find(
    (row) => Math.hypot((percent(row, "x") / 100) * box.width - x, (percent(row, "y") / 100) * box.height - y) < NEAR,
  );
  return { held, x: (x / box.width) * 100, y: (y / box.height) * 100 };
}

canvas?.addEventListener("click", (event) => {
  const { held, x, y } = at(event);
  if (!held) return void add(x, y);
  // A tap on a mark gives it the chosen sound.
  field(held, "sound").value = sound;
  dirty = true;
  draw();
  say(`Mark ${rows().indexOf(held) + 1} is now ${wordOf(sound).toLowerCase()}.`);
});

form.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.dataset.sound) {
    sound = button.dataset.sound;
    for (const other of form.querySelectorAll("[data-sound]")) other.setAttribute("aria-pressed", String(other === button));
    say(`Tap the picture where it sounds ${wordOf(sound).toLowerCase()}.`);
  } else if ("middle" in button.dataset) {
    add(50, 50).querySelector("[data-move]").focus();
  } else if ("remove" in button.dataset) {
    const row = button.closest("[data-row]");
    const next = row.nextElementSibling ?? row.previousElementSibling;
    row.remove();
    dirty = true;
    draw();
    (next?.querySelector("[data-remove]") ?? form.querySelector("[data-middle]"))?.focus();
    say("The mark is taken away.");
  }
});

form.addEventListener("keydown", (event) => {
  const move = event.target.closest("[data-move]") && MOVES[event.key];
  if (!move) return;
  event.preventDefault();
  const row = event.target.closest("[data-row]");
  const step = event.shiftKey ? 10 : 1;
  put(row, percent(row, "x") + move[0] * step, percent(row, "y") + move[1] * step);
  say(`${field(row, "x").value} % from the left, ${field(row, "y").value} % from the top.`);
});

list.addEventListener("input", () => {
  dirty = true;
  draw();
});
form.addEventListener("submit", () => (dirty = false));
window.addEventListener("beforeunload", (event) => dirty && event.preventDefault());

/* Empty rows are for those without a script. */
for (const row of rows()) if (!field(row, "sound").value && !field(row, "x").value && !field(row, "y").value) row.remove();
for (const node of form.querySelectorAll("[data-with-script]")) node.hidden = false;
draw();
say(canvas ? `Tap the picture where it sounds ${wordOf(sound).toLowerCase()}.` : "");
