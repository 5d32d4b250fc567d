/* The page of a photo: keys, swipe, neighbors loaded ahead, full view. Every link on it works without this script. */

import { fullView } from "./full-view.js";

const SWIPE = 60; // px across before a finger means another photo
const SLANT = 1.8; // so much more across than down
const LETTERS = "photo-letters-off";

const one = (selector) => document.querySelector(selector);
const status = () => one("[data-view-status]");
const newer = () => one(".photo-steps [rel=prev]");
const older = () => one(".photo-steps [rel=next]");

function lettersOn() {
  try {
    return localStorage.getItem(LETTERS) !== "1";
  } catch {
    return true;
  }
}

/* Go to another photo; an open full view opens again there. */
function go(link, words) {
  if (!link) {
    if (words && status()) status().textContent = words;
    return false;
  }
  location.assign(view?.open ? `${link.href}#full` : link.href);
  return true;
}
const toNewer = () => go(newer(), "This is the newest.");
const toOlder = () => go(older(), "This is the oldest.");

const view = fullView(one("[data-full-view]"), { toNewer, toOlder });

const KEYS = {
  ArrowLeft: toNewer,
  ArrowRight: toOlder,
  Home: () => go(one("[data-first]")),
  End: () => go(one("[data-last]")),
  Escape: () => go(one("[data-to-sheet]")),
};
const LETTER_KEYS = {
  e: () => go(one("[data-edit]")),
  f: () => view?.show(),
};

/* Keys are for the page where nobody is typing, choosing or playing something. */
function isTaken(target) {
  return target.closest("input, textarea, select, video, audio, [contenteditable], dialog") !== null;
}

function key(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented || isTaken(event.target)) return;
  if (event.key === "Escape" && one("details.more[open]")) return;
  const act = KEYS[event.key] ?? (lettersOn() && LETTER_KEYS[event.key.toLowerCase()]);
  if (!act || event.shiftKey) return;
  event.preventDefault();
  act();
}

/* A finger that goes across the picture; up and down still scrolls, two fingers still enlarge. */
function watchSwipe(picture) {
  let from = null;
  let swiped = false;
  const image = () => picture.querySelector("a.markup");
  const settle = () => {
    from = null;
    if (image()) image().style.transform = "";
  };
  picture.addEventListener("pointerdown", (event) => {
    swiped = false;
    if (event.pointerType === "mouse" || !event.target.closest("a.markup")) return;
    if (from || (window.visualViewport?.scale ?? 1) > 1.01) return settle();
    from = { id: event.pointerId, x: event.clientX, y: event.clientY };
  });
  picture.addEventListener("pointermove", (event) => {
    if (!from || event.pointerId !== from.id) return;
    const across = event.clientX - from.x;
    if (Math.abs(across) > 12 && Math.abs(across) > SLANT * Math.abs(event.clientY - from.y)) {
      const there = across > 0 ? newer() : older();
      image().style.transform = `translateX(${there ? across : across / 5}px)`;
    }
  });
  picture.addEventListener("pointerup", (event) => {
    if (!from || event.pointerId !== from.id) return;
    const across = event.clientX - from.x;
    const down = event.clientY - from.y;
    const meant = Math.abs(across) >= SWIPE && Math.abs(across) > SLANT * Math.abs(down);
    swiped = Math.abs(across) > 12;
    if (!meant || !(across > 0 ? toNewer() : toOlder())) settle();
  });
  picture.addEventListener("pointercancel", settle);
  picture.addEventListener("click", (event) => swiped && event.target.closest("a.markup") && event.preventDefault(), true);
}

function hideMarks(button) {
  const hidden = button.getAttribute("aria-pressed") !== "true";
  for (const other of document.querySelectorAll("[data-hide-marks]")) {
    other.setAttribute("aria-pressed", String(hidden));
  }
  document.body.classList.toggle("without-marks", hidden);
}

function click(event) {
  if (event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey) return;
  const full = event.target.closest("[data-full]");
  if (full && view) {
    event.preventDefault();
    view.show();
  }
  const hide = event.target.closest("[data-hide-marks]");
  if (hide) hideMarks(hide);
}

/* The pictures on both sides are fetched while this one is looked at. */
function loadAhead() {
  for (const link of document.querySelectorAll("[data-ahead]")) new Image().src = link.dataset.ahead;
}

function keysSheet() {
  const box = one("[data-keys]");
  const tick = one("[data-letters-on]");
  if (!box) return;
  box.hidden = false;
  tick.checked = lettersOn();
  tick.addEventListener("change", () => {
    try {
      localStorage.setItem(LETTERS, tick.checked ? "0" : "1");
    } catch {
      tick.checked = true;
    }
  });
}

function ready() {
  for (const button of document.querySelectorAll("[data-hide-marks]")) button.hidden = false;
  if (one("[data-picture]")) watchSwipe(one("[data-picture]"));
  if (document.readyState === "complete") loadAhead();
}

document.addEventListener("keydown", key);
document.addEventListener("click", click);
document.addEventListener("htmx:afterSwap", ready);
window.addEventListener("load", loadAhead);
ready();
keysSheet();
if (location.hash === "#full") view?.show();
