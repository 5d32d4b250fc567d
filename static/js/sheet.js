/* The contact sheet: what comes next is loaded before it is reached. Without this script "Older photos" is a link. */

const AHEAD = "2400px";

const sheet = document.querySelector("[data-sheet]");
const pieces = sheet?.querySelector("[data-pieces]");
const status = sheet?.querySelector("[data-sheet-status]");
let watcher = null;

/* The loaded piece of a page that is being read, as nodes. */
async function fetched(address) {
  const answer = await fetch(address, { headers: { "HX-Request": "true" }, redirect: "error" });
  if (!answer.ok) throw new Error(`${answer.status}`);
  const text = document.createElement("template");
  text.innerHTML = await answer.text();
  return text.content;
}

/* Put further photos behind those that are there; a month that goes on becomes one list. */
export function append(into, content) {
  for (const piece of content.querySelectorAll(".month-piece")) {
    const last = [...into.querySelectorAll(":scope > .month-piece")].at(-1);
    if (last && last.dataset.month === piece.dataset.month) {
      last.querySelector("ol").append(...piece.querySelector("ol").children);
    } else {
      into.append(piece);
    }
  }
  const further = content.querySelector(".further");
  if (further) into.append(further);
}

async function more(link) {
  if (link.dataset.loading) return;
  link.dataset.loading = "1";
  const held = document.activeElement === link;
  try {
    const content = await fetched(link.href);
    const first = content.querySelector("li a");
    link.closest(".further").remove();
    append(pieces, content);
    if (held) first?.focus({ preventScroll: true });
    watch();
  } catch {
    delete link.dataset.loading;
    link.textContent = "Older photos: not loaded, try again";
    status.textContent = "Older photos could not be loaded.";
  }
}

function watch() {
  watcher?.disconnect();
  const link = pieces.querySelector("[data-further]");
  if (!link) return;
  watcher = new IntersectionObserver((seen) => seen.some((one) => one.isIntersecting) && more(link), {
    rootMargin: `0px 0px ${AHEAD}`,
  });
  watcher.observe(link);
}

/* A month that is loaded already is a jump on this page, not a new page. */
function jump(event) {
  const link = event.target.closest("[data-to-month]");
  const there = link && document.getElementById(link.dataset.toMonth);
  if (!there) return;
  event.preventDefault();
  link.closest("details").open = false;
  there.tabIndex = -1;
  there.scrollIntoView();
  there.focus({ preventScroll: true });
}

/* Exactly two are compared: a third tick takes the first one off again. */
const ticked = [];
function tick(event) {
  if (event.target.name !== "pick") return;
  const place = ticked.indexOf(event.target);
  if (place >= 0) ticked.splice(place, 1);
  if (event.target.checked) ticked.push(event.target);
  if (ticked.length > 2) ticked.shift().checked = false;
  status.textContent = `${ticked.length} of 2 ticked`;
}

if (pieces) {
  watch();
  sheet.addEventListener("click", (event) => {
    const link = event.target.closest("[data-further]");
    if (link) {
      event.preventDefault();
      more(link);
    } else jump(event);
  });
  sheet.addEventListener("change", tick);
}
