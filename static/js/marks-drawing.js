/* How marks are drawn over a photo while they are being made: the same lines as calc/marks.py draws for pages, prints
   and pictures. Corners are in ten-thousandths of the picture; the longest side of the layer is 1000 units. */

const WHOLE = 10_000;
const LONGEST = 1000;
const BALLOON = 30;
const RIM = 4;
const HEAD = 36;
const HEAD_HALF = 16;
const LETTERS = 33;
const LEADING = 42;
const PAD = 11;
const NUMBER = 36;
const WIDEST_NOTE = 560;
const DROP = 0.35;
const NARROW = new Set("ijltfrI.,:;'|!()[] -");
const WIDE = new Set("mwMW@%");
const SVG = "http://www.w3.org/2000/svg";

function em(sign) {
  const code = sign.codePointAt(0);
  if (code >= 0x2e80) return 1.05;
  if (code > 127) return 0.72;
  if (NARROW.has(sign)) return 0.34;
  if (WIDE.has(sign)) return 0.92;
  return /[A-Z0-9]/.test(sign) ? 0.67 : 0.56;
}

const ems = (text) => [...text].reduce((sum, sign) => sum + em(sign), 0);

function pieces(word, room) {
  const found = [];
  let piece = "";
  for (const sign of word) {
    if (piece && ems(piece + sign) > room) {
      found.push(piece);
      piece = "";
    }
    piece += sign;
  }
  return [...found, piece];
}

export function broken(text, room) {
  const lines = [];
  let line = "";
  for (const word of text.split(/\s+/).filter(Boolean)) {
    for (const piece of pieces(word, room)) {
      const longer = line ? `${line} ${piece}` : piece;
      if (line && ems(longer) > room) {
        lines.push(line);
        line = piece;
      } else line = longer;
    }
  }
  return [...lines, line];
}

const within = (value, room, whole) =>
  whole < 2 * room ? whole / 2 : Math.min(Math.max(value, room), whole - room);

/* The frame of the layer for a picture of this size in pixels. */
export function frameOf(width, height) {
  const scale = LONGEST / Math.max(width, height, 1);
  return { width: width * scale, height: height * scale };
}

function balloon([x, y], frame) {
  const room = BALLOON + RIM / 2;
  return [within(x, room, frame.width), within(y, room, frame.height)];
}

function arrow([x1, y1, x2, y2], frame) {
  const length = Math.hypot(x2 - x1, y2 - y1) || 1;
  const ahead = [(x2 - x1) / length, (y2 - y1) / length];
  const tip = Math.min(HEAD, length * 0.6);
  const half = (tip * HEAD_HALF) / HEAD;
  const neck = [x2 - ahead[0] * tip, y2 - ahead[1] * tip];
  return {
    shaft: [[x1, y1], neck],
    head: [
      [x2, y2],
      [neck[0] - ahead[1] * half, neck[1] + ahead[0] * half],
      [neck[0] + ahead[1] * half, neck[1] - ahead[0] * half],
    ],
    balloon: balloon([x1 - ahead[0] * BALLOON, y1 - ahead[1] * BALLOON], frame),
  };
}

function ring([x1, y1, x2, y2], frame) {
  const [x, y, halfX, halfY] = [(x1 + x2) / 2, (y1 + y2) / 2, Math.abs(x2 - x1) / 2, Math.abs(y2 - y1) / 2];
  const slant = Math.sqrt(0.5);
  return {
    ring: [x, y, halfX, halfY],
    balloon: balloon([x + (halfX + BALLOON) * slant, y - (halfY + BALLOON) * slant], frame),
  };
}

function note([x1, y1], frame, words) {
  const room = Math.min(WIDEST_NOTE, frame.width - 2 * BALLOON - 2 * PAD) / LETTERS;
  const texts = broken(words || "…", room);
  const wide = Math.max(...texts.map(ems)) * LETTERS + BALLOON + 2 * PAD;
  const tall = texts.length * LEADING + 2 * PAD;
  const x = Math.max(BALLOON + 2, Math.min(x1, frame.width - wide - 2));
  const y = within(y1, Math.max(BALLOON, tall / 2) + 2, frame.height);
  const top = y - tall / 2 + PAD;
  return {
    balloon: [x, y],
    box: [x, y - tall / 2, wide, tall],
    lines: texts.map((text, place) => [x + BALLOON + PAD, top + (place + 0.5) * LEADING + DROP * LETTERS, text]),
  };
}

/* What to draw for one mark {kind, x1, y1, x2, y2, words} in a frame. */
export function drawn(mark, frame) {
  const corners = [mark.x1, mark.y1, mark.x2, mark.y2].map(
    (value, place) => (value * (place % 2 ? frame.height : frame.width)) / WHOLE,
  );
  return { arrow, ring, note }[mark.kind](corners, frame, mark.words);
}

const figure = (value) => value.toFixed(1);
const points = (corners) => corners.map(([x, y]) => `${figure(x)},${figure(y)}`).join(" ");

/* One node of the layer. */
export function shape(name, style, attributes, text) {
  const node = document.createElementNS(SVG, name);
  node.setAttribute("class", style);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  if (text !== undefined) node.textContent = text;
  return node;
}

/* One mark as nodes of the layer, in the order and with the classes of templates/evidence/_marks_layer.html. */
export function nodeOf(mark, number, frame) {
  const one = drawn(mark, frame);
  const group = document.createElementNS(SVG, "g");
  if (one.shaft) {
    for (const style of ["halo", "stroke"]) {
      group.append(shape("polyline", style, { points: points(one.shaft) }));
      group.append(shape("polygon", style === "halo" ? "halo head" : "head", { points: points(one.head) }));
    }
  }
  if (one.ring) {
    const [cx, cy, rx, ry] = one.ring.map(figure);
    for (const style of ["halo", "stroke"]) group.append(shape("ellipse", style, { cx, cy, rx, ry }));
  }
  if (one.box) {
    const [x, y, width, height] = one.box.map(figure);
    group.append(shape("rect", "rim", { x, y, width, height }));
    for (const [left, base, text] of one.lines) {
      group.append(shape("text", "words", { x: figure(left), y: figure(base) }, text));
    }
  }
  const [cx, cy] = one.balloon.map(figure);
  group.append(shape("circle", "rim", { cx, cy, r: figure(BALLOON) }));
  group.append(shape("text", "number", { x: cx, y: figure(one.balloon[1] + DROP * NUMBER) }, String(number)));
  return group;
}
