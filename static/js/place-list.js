/* The list in which one says where photos go: big rows, those worked on last first. Never a dialog. */

import { inOrder, matching } from "./places.js";

const RECENT = 4;
const MOST = 40;
const KINDS = { part: "Part", bin: "Bin", lot: "Lot" };
const TRAY = { key: "", number: "", name: "No place yet, to the tray" };

export class PlaceList {
  /* `chosen(key)` hears what was tapped. */
  constructor({ box, button, row, chosen }) {
    Object.assign(this, { box, button, row, chosen, places: new Map(), recent: [], current: "" });
    this.rows = box.querySelector("[data-place-rows]");
    this.find = box.querySelector("[data-find]");
    button.hidden = false;
    button.addEventListener("click", () => this.open(box.hidden));
    this.find.addEventListener("input", () => this.draw());
    this.find.addEventListener("keydown", (event) => event.key === "Enter" && event.preventDefault());
    this.rows.addEventListener("click", (event) => this.choose(event.target.closest("[data-key]")));
  }

  know({ places, recent, current }) {
    Object.assign(this, { places, recent, current });
    if (!this.box.hidden) this.draw();
  }

  open(wanted) {
    this.box.hidden = !wanted;
    this.button.setAttribute("aria-expanded", String(wanted));
    this.find.value = "";
    if (wanted) this.draw();
    else this.rows.replaceChildren();
  }

  choose(row) {
    if (!row) return;
    this.chosen(row.dataset.key);
    this.open(false);
    this.button.focus({ preventScroll: true });
    scrollTo({ top: 0 });
  }

  draw() {
    const wanted = this.find.value.trim();
    if (wanted) this.drawFound(matching(this.places, wanted));
    else this.drawAll(inOrder(this.places, this.recent.slice(0, RECENT)));
  }

  drawFound(found) {
    const more = found.length > MOST ? `, the first ${MOST}` : "";
    this.rows.replaceChildren(...this.group(`${found.length} found${more}`, found.slice(0, MOST)));
  }

  drawAll({ recent, assemblies, bins, lots }) {
    this.rows.replaceChildren(
      ...this.group("Worked on last", recent),
      this.list([TRAY]),
      ...this.group("Assemblies", []),
      ...assemblies.flatMap(({ place, parts }) => [this.list([place], place.depth), ...this.partsOf(place, parts)]),
      ...(bins.length ? this.group("Bins", bins) : []),
      ...(lots.length ? this.group("Lots", lots) : []),
    );
  }

  group(words, places) {
    const head = Object.assign(document.createElement("h3"), { textContent: words });
    return [head, ...(places.length ? [this.list(places)] : [])];
  }

  partsOf(place, parts) {
    if (!parts.length) return [];
    const details = Object.assign(document.createElement("details"), { className: "disclosure" });
    const summary = document.createElement("summary");
    summary.textContent = `${parts.length} ${parts.length === 1 ? "part" : "parts"} of ${place.number}`;
    details.append(summary, this.list(parts, (place.depth ?? 0) + 1));
    return [details];
  }

  list(places, depth = 0) {
    const list = document.createElement("ul");
    list.append(...places.map((place) => this.item(place, depth)));
    return list;
  }

  item({ key, number, name, kind }, depth) {
    const item = this.row.content.firstElementChild.cloneNode(true);
    const button = item.querySelector("button");
    button.dataset.key = key;
    if (depth) button.dataset.depth = String(Math.min(depth, 4));
    if (key === this.current) button.setAttribute("aria-current", "true");
    item.querySelector(".asm-no").textContent = number;
    item.querySelector("[data-name]").textContent = name;
    item.querySelector("[data-more]").textContent = KINDS[kind] ?? "";
    return item;
  }
}
