/* Drawing marks over a photo. The list beside the picture is the truth: it is what is sent, and it works alone. */

import { drawn, frameOf, nodeOf, shape } from "./marks-drawing.js";

const WHOLE = 10_000;
const STEP = 100; // one per cent
const LEAST_DRAG = 300; // nearer than this a finger only tapped
const REACH = 26; // px about a corner that take hold of it
const FIELDS = ["key", "kind", "words", "x1", "y1", "x2", "y2"];
const SAID = {
  arrow: ["Tap where the arrow starts, or draw it with one stroke.", "Tap what it points at."],
  ring: ["Tap one corner of the ring, or draw it with one stroke.", "Tap the other corner."],
  note: ["Tap where the words belong."],
};
const CORNERS = { arrow: ["Start", "Point"], ring: ["Upper left", "Lower right"], note: ["Place", ""] };

const form = document.querySelector("[data-marks]");
const list = form.querySelector("[data-rows]");
const canvas = form.querySelector("[data-canvas]");
const layer = canvas.querySelector("svg.layer");
const words = form.querySelector("[data-tool-words]");
const undoButton = form.querySelector("[data-undo]");
const total = form.querySelector("[name$=-TOTAL_FORMS]");
const frame = frameOf(Number(form.dataset.width), Number(form.dataset.height));
const most = Number(form.dataset.most);

let tool = "";
let pending = null; // the first corner, tapped
let chosen = { row: null, corner: 1 };
let drag = null;
let last = "";
let leaving = false;
const before = [];

const rows = () => [...list.querySelectorAll("[data-row]")];
const field = (row, name) => row.querySelector(`[name$="-${name}"]`);
const clamp = (value) => Math.min(WHOLE, Math.max(0, Math.round(value)));
const say = (text) => (words.textContent = text);

/* ---- the list ---- */

function markOf(row) {
  const mark = Object.fromEntries(FIELDS.map((name) => [name, field(row, name).value]));
  for (const name of FIELDS.slice(3)) mark[name] = clamp(Number(mark[name].replace(",", ".")) * 100 || 0);
  return mark;
}

function put(row, values) {
  for (const [name, value] of Object.entries(values)) {
    field(row, name).value = typeof value === "number" ? String(value / 100) : value;
  }
}

/* Rows are numbered through, as the names of their fields tell the server. */
function renumber() {
  rows().forEach((row, place) => {
    for (const node of row.querySelectorAll("[name], [id], [for], [aria-describedby]")) {
      for (const name of ["name", "id", "for", "aria-describedby"]) {
        const value = node.getAttribute(name);
        if (value) node.setAttribute(name, value.replace(/form-(\d+|__prefix__)-/, `form-${place}-`));
      }
    }
    row.querySelector(".balloon").textContent = place + 1;
    for (const node of row.querySelectorAll("[data-number]")) node.textContent = place + 1;
    const kind = field(row, "kind").value;
    row.querySelectorAll("[data-corner-name]").forEach((node, corner) => (node.textContent = CORNERS[kind]?.[corner] ?? ""));
    row.querySelector("[data-corner='2']").hidden = kind === "note";
    row.querySelector("[data-end]").hidden = kind === "note";
  });
  total.value = String(rows().length);
  form.querySelector("[data-none]").hidden = rows().length > 0;
}

function addRow(values) {
  const row = form.querySelector("[data-row-template]").content.cloneNode(true).querySelector("[data-row]");
  put(row, values);
  list.append(row);
  return row;
}

const state = () => JSON.stringify(rows().map(markOf));

/* Redraw, and remember what stood before for Undo. */
function changed() {
  renumber();
  draw();
  const now = state();
  if (now === last) return;
  before.push(last);
  last = now;
  undoButton.disabled = false;
}

function undo() {
  const old = before.pop();
  if (old === undefined) return;
  list.replaceChildren();
  for (const mark of JSON.parse(old)) addRow(mark);
  last = old;
  chosen = { row: null, corner: 1 };
  pending = null;
  renumber();
  draw();
  undoButton.disabled = before.length === 0;
  say("The last change is taken back.");
}

function remove(row) {
  const next = row.nextElementSibling ?? row.previousElementSibling;
  row.remove();
  if (chosen.row === row) chosen = { row: null, corner: 1 };
  changed();
  (next?.querySelector("[data-remove]") ?? form.querySelector("[data-tool]")).focus();
  say("The mark is taken away.");
}

/* ---- the picture ---- */

function draw() {
  layer.replaceChildren();
  rows().forEach((row, place) => {
    const mark = markOf(row);
    if (mark.kind) layer.append(nodeOf(mark, place + 1, frame));
    row.classList.toggle("chosen", row === chosen.row);
    row.querySelectorAll("[data-corner]").forEach((button) =>
      button.setAttribute("aria-pressed", String(row === chosen.row && Number(button.dataset.corner) === chosen.corner)),
    );
  });
  if (chosen.row) {
    const mark = markOf(chosen.row);
    if (mark.kind === "note") layer.append(about(drawn(mark, frame).balloon));
    else {
      for (const corner of [1, 2]) layer.append(handle(mark[`x${corner}`], mark[`y${corner}`], corner === chosen.corner));
    }
  }
  if (pending) layer.append(handle(pending.x, pending.y, true));
}

/* A corner that can be taken hold of. */
function handle(x, y, isChosen) {
  const side = isChosen ? 26 : 18;
  return shape("rect", isChosen ? "handle chosen" : "handle", {
    x: (x * frame.width) / WHOLE - side / 2,
    y: (y * frame.height) / WHOLE - side / 2,
    width: side,
    height: side,
  });
}

/* A note is held by its number. */
const about = ([cx, cy]) => shape("circle", "handle about", { cx, cy, r: 40 });

function placeOf(event) {
  const box = canvas.getBoundingClientRect();
  return {
    x: clamp(((event.clientX - box.left) / box.width) * WHOLE),
    y: clamp(((event.clientY - box.top) / box.height) * WHOLE),
  };
}

/* The corner of a mark under a finger: of the chosen one first, then of the others. */
function cornerAt(event) {
  const box = canvas.getBoundingClientRect();
  const near = (x, y) =>
    Math.hypot((x / WHOLE) * box.width + box.left - event.clientX, (y / WHOLE) * box.height + box.top - event.clientY) < REACH;
  const order = chosen.row ? [chosen.row, ...rows().filter((row) => row !== chosen.row)] : rows();
  for (const row of order) {
    const mark = markOf(row);
    for (const corner of mark.kind === "note" ? [1] : [2, 1]) {
      if (near(mark[`x${corner}`], mark[`y${corner}`])) return { row, corner };
    }
    const [x, y] = drawn(mark, frame).balloon;
    if (near((x / frame.width) * WHOLE, (y / frame.height) * WHOLE)) return { row, corner: 1 };
  }
  return null;
}

function choose(row, corner = 1) {
  chosen = { row, corner };
  draw();
}

function setTool(name) {
  tool = tool === name ? "" : name;
  pending = null;
  for (const button of form.querySelectorAll("[data-tool]")) {
    button.setAttribute("aria-pressed", String(button.dataset.tool === tool));
  }
  canvas.classList.toggle("drawing", tool !== "");
  form.querySelector("[data-middle]").hidden = !tool;
  say(tool ? SAID[tool][0] : "");
  draw();
}

function complete(kind, from, to) {
  pending = null;
  if (rows().length >= most) return say(`At most ${most} marks fit on one photo.`);
  const [x1, x2] = kind === "ring" ? [Math.min(from.x, to.x), Math.max(from.x, to.x)] : [from.x, to.x];
  const [y1, y2] = kind === "ring" ? [Math.min(from.y, to.y), Math.max(from.y, to.y)] : [from.y, to.y];
  const row = addRow({ key: "", kind, words: "", x1, y1, x2, y2 });
  chosen = { row, corner: kind === "arrow" ? 2 : 1 };
  changed();
  const number = rows().length;
  if (kind === "note") {
    say(`Note ${number} is placed. Type its words.`);
    field(row, "words").focus();
  } else {
    say(`${kind === "arrow" ? "Arrow" : "Ring"} ${number} is drawn. Draw the next one, or type words beside it.`);
  }
  return row;
}

/* ---- fingers ---- */

canvas.addEventListener("pointerdown", (event) => {
  if (event.button || drag) return;
  const held = pending ? null : cornerAt(event);
  const at = placeOf(event);
  if (held) {
    chosen = held;
    drag = { id: event.pointerId, held };
    draw();
  } else if (tool) {
    drag = { id: event.pointerId, from: at };
  } else return;
  event.preventDefault();
  canvas.setPointerCapture(event.pointerId);
});

canvas.addEventListener("pointermove", (event) => {
  if (drag?.id !== event.pointerId) return;
  const at = placeOf(event);
  if (drag.held) {
    const { row, corner } = drag.held;
    put(row, { [`x${corner}`]: at.x, [`y${corner}`]: at.y });
    draw();
  } else if (tool !== "note" && far(drag.from, at)) {
    draw();
    layer.append(nodeOf({ kind: tool, x1: drag.from.x, y1: drag.from.y, x2: at.x, y2: at.y, words: "" }, rows().length + 1, frame));
  }
});

const far = (a, b) => Math.hypot(a.x - b.x, a.y - b.y) >= LEAST_DRAG;

canvas.addEventListener("pointerup", (event) => {
  if (drag?.id !== event.pointerId) return;
  const { held, from } = drag;
  const at = placeOf(event);
  drag = null;
  if (held) return changed();
  if (tool === "note") return void complete(tool, at, at);
  if (far(from, at)) return void complete(tool, from, at);
  if (pending && far(pending, at)) return void complete(tool, pending, at);
  pending = at;
  say(SAID[tool][1]);
  draw();
});

canvas.addEventListener("pointercancel", () => {
  drag = null;
  draw();
});

/* ---- keys, buttons and fields ---- */

const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

form.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && tool) return setTool(tool);
  const button = event.target.closest("[data-corner]");
  const move = button && MOVES[event.key];
  if (!move) return;
  event.preventDefault();
  const row = button.closest("[data-row]");
  const corner = Number(button.dataset.corner);
  const mark = markOf(row);
  const step = event.shiftKey ? 10 * STEP : STEP;
  chosen = { row, corner };
  put(row, {
    [`x${corner}`]: clamp(mark[`x${corner}`] + move[0] * step),
    [`y${corner}`]: clamp(mark[`y${corner}`] + move[1] * step),
  });
  changed();
});

form.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  const row = button.closest("[data-row]");
  if (button.dataset.tool) setTool(button.dataset.tool);
  else if (button === undoButton) undo();
  else if ("remove" in button.dataset) remove(row);
  else if (button.dataset.corner) choose(row, Number(button.dataset.corner));
  else if ("addMiddle" in button.dataset) {
    const half = WHOLE / 2;
    const tenth = WHOLE / 10;
    const added = complete(tool, { x: half - tenth, y: half - tenth }, { x: half + tenth, y: half + tenth });
    if (added && tool !== "note") added.querySelector("[data-corner]").focus();
  }
});

list.addEventListener("focusin", (event) => {
  const row = event.target.closest("[data-row]");
  if (row && row !== chosen.row) choose(row);
});
list.addEventListener("input", draw);
list.addEventListener("change", changed);

form.addEventListener("submit", () => (leaving = true));
form.querySelector("[data-leave]").addEventListener("click", () => (leaving = true));
window.addEventListener("beforeunload", (event) => before.length && !leaving && event.preventDefault());

/* ---- begin ---- */

form.classList.add("live");
form.querySelector("[data-tools]").hidden = false;
for (const row of rows()) {
  if (!field(row, "kind").value) row.remove();
  else field(row, "kind").querySelector("option[value='']")?.remove();
}
renumber();
draw();
last = state();
