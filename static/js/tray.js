/* Choosing photos in the tray with keys, and the bar that counts them. Without this file every photo is a check box that
   Tab reaches and the bar is always there. */

const bar = document.querySelector("[data-chosen]");
const boxes = () => [...document.querySelectorAll("[data-pick]")];

function showCount() {
  const chosen = boxes().filter((box) => box.checked).length;
  bar.hidden = chosen === 0;
  bar.querySelector("[data-count]").textContent = `${chosen} chosen`;
}

function clearChoice() {
  for (const box of boxes()) box.checked = false;
  showCount();
}

/* One photo of each group is reached with Tab; arrows go on from there. */
class Sheet {
  constructor(list) {
    this.list = list;
    this.boxes = [...list.querySelectorAll("[data-pick]")];
    this.stop(this.boxes[0]);
    list.addEventListener("keydown", (event) => this.press(event));
    list.addEventListener("focusin", (event) => this.boxes.includes(event.target) && this.stop(event.target));
  }

  stop(box) {
    for (const one of this.boxes) one.tabIndex = one === box ? 0 : -1;
  }

  /* How many photos stand in a row, as the page happens to be laid out. */
  get columns() {
    const tops = this.boxes.map((box) => box.closest("li").offsetTop);
    const second = tops.findIndex((top) => top !== tops[0]);
    return second < 0 ? this.boxes.length : second;
  }

  press(event) {
    const at = this.boxes.indexOf(event.target);
    if (at < 0 || event.altKey) return;
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "a") {
      event.preventDefault();
      for (const box of this.boxes) box.checked = true;
      showCount();
      return;
    }
    const to = this.target(event.key, at);
    if (to === null) return;
    event.preventDefault();
    if (event.shiftKey) this.choose(at, to);
    this.boxes[to].focus();
  }

  target(key, at) {
    const last = this.boxes.length - 1;
    const steps = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -this.columns, ArrowDown: this.columns, Home: -at, End: last - at };
    if (!(key in steps)) return null;
    return Math.max(0, Math.min(last, at + steps[key]));
  }

  choose(from, to) {
    for (let index = Math.min(from, to); index <= Math.max(from, to); index += 1) this.boxes[index].checked = true;
    showCount();
  }
}

function start() {
  for (const list of document.querySelectorAll("[data-picks]")) new Sheet(list);
  document.querySelector("[data-keys]").hidden = !matchMedia("(hover: hover) and (pointer: fine)").matches;
  const clear = bar.querySelector("[data-clear]");
  clear.hidden = false;
  clear.addEventListener("click", () => {
    clearChoice();
    document.querySelector("[data-pick]").focus();
  });
  document.addEventListener("change", (event) => event.target.matches("[data-pick]") && showCount());
  document.addEventListener("keydown", (event) => event.key === "Escape" && !bar.hidden && clearChoice());
  /* A page that comes back out of the browser's memory may have its boxes ticked. */
  addEventListener("pageshow", showCount);
  showCount();
}

if (bar) start();
