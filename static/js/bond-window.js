/* Counts down to when the last wipe is dry, then to when the surface has to be cleaned again; also without signal. */

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

const sheet = document.querySelector("[data-dry-at]");

function show() {
  const found = standing(Date.now(), Date.parse(sheet.dataset.dryAt), Date.parse(sheet.dataset.expiresAt));
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
  show();
  setInterval(show, 1000);
}
