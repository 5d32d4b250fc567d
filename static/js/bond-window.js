/* Counts down to when the last wipe is dry, then to when the surface has to be cleaned again; also without signal, and from
   a wipe that was tapped on this phone and has not been sent yet. */

import { knownStatus } from "./here.js";

/* A length of time as h:mm:ss. */
export function leftText(milliseconds) {
  const seconds = Math.max(0, Math.ceil(milliseconds / 1000));
  const pair = (value) => String(value).padStart(2, "0");
  return `${Math.floor(seconds / 3600)}:${pair(Math.floor(seconds / 60) % 60)}:${pair(seconds % 60)}`;
}

/* What holds at a moment: still wet, ready, or too late, with the time left. */
export function standing(now, dryAt, expiresAt) {
  if (now < dryAt) return { left: dryAt - now, words: "until the last wipe is dry. Wait.", state: "wet" };
  if (now <= expiresAt) return { left: expiresAt - now, words: "left: the adhesive may go on now.", state: "ready" };
  return { left: 0, words: "The time is over: clean the surfaces again before the adhesive.", state: "over" };
}

const sheet = document.querySelector("[data-window]");
let wiped = null;

/**
 * The clock goes on from this wipe.
 * @param {number|null} at milliseconds by this phone's clock; null: there is nothing to count down to
 */
export function countFrom(at) {
  wiped = at;
  if (sheet) show();
}

function show() {
  sheet.hidden = wiped === null;
  if (sheet.hidden) return;
  const after = (minutes) => wiped + Number(minutes) * 60_000;
  const found = standing(Date.now(), after(sheet.dataset.dry), after(sheet.dataset.within));
  const [left, says] = [sheet.querySelector("[data-left]"), sheet.querySelector("[data-says]")];
  left.hidden = found.state === "over";
  left.textContent = leftText(found.left);
  if (says.dataset.state === found.state) return;
  // Said aloud only when it turns, never every second.
  if (says.dataset.state) navigator.vibrate?.([300, 150, 300]);
  says.dataset.state = found.state;
  says.setAttribute("aria-live", "polite");
  says.textContent = found.words;
}

if (sheet) {
  // The page tells the server's time; the clock runs by this phone's.
  const status = await knownStatus();
  if (sheet.dataset.wiped) wiped ??= Number(sheet.dataset.wiped) + (status ? status.at - status.now : 0);
  show();
  setInterval(show, 1000);
}
