/* Enhancements common to all pages; every page works without them. */

/* Hours and minutes since `from` (an ISO time), less `lessSeconds` of breaks, as h:mm. */
export function elapsedText(from, lessSeconds, now) {
  const seconds = (now - Date.parse(from)) / 1000 - lessSeconds;
  const minutes = Math.max(0, Math.floor(seconds / 60));
  return `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;
}

function showElapsed() {
  for (const node of document.querySelectorAll("time[data-elapsed-from]")) {
    const text = elapsedText(node.dataset.elapsedFrom, Number(node.dataset.elapsedLess ?? 0), Date.now());
    if (node.textContent !== text) node.textContent = text;
    node.closest(".elapsed")?.classList.toggle("long", text.length > 5);
  }
}

/* Once a minute is enough: the figure has no seconds, and nothing on the page should flicker. */
function tickTimers() {
  showElapsed();
  setTimeout(tickTimers, 60_000 - (Date.now() % 60_000));
}

/* The list of other places on a phone closes when something else is tapped, or with Escape. */
function closePlaces(event) {
  for (const places of document.querySelectorAll("details.more[open]")) {
    const escaped = event.type === "keydown" && event.key === "Escape";
    if (escaped) places.querySelector("summary").focus();
    if (escaped || (event.type === "click" && !places.contains(event.target))) places.open = false;
  }
}

/* After a refused form the summary of errors is where the reader should be. */
function goToErrors() {
  document.getElementById("error-summary")?.focus();
}

tickTimers();
goToErrors();
document.addEventListener("visibilitychange", showElapsed);
document.addEventListener("click", closePlaces);
document.addEventListener("keydown", closePlaces);
document.addEventListener("htmx:afterSettle", showElapsed);
document.addEventListener("timers:shown", showElapsed);
