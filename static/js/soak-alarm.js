/* Rings at the end of a soak, also without signal: the time is kept on this device under the request that began the run, so it
   goes on when the run has reached the server. The page has to stay open. */

const SAID = "Tap when the coldest sensor is in the band: this page rings at the end of the soak, also without signal. Keep it open.";
const RUNS = "This page rings at the end of the soak, also without signal. Keep it open.";
const OVER = "The soak is over by this clock. Look at the coldest sensor before the heat goes off.";

/* The time left as h:mm:ss. */
export function leftText(milliseconds) {
  const seconds = Math.max(0, Math.ceil(milliseconds / 1000));
  const pair = (value) => String(value).padStart(2, "0");
  return `${Math.floor(seconds / 3600)}:${pair(Math.floor(seconds / 60) % 60)}:${pair(seconds % 60)}`;
}

let sound = null;

/* Three short tones; browsers allow sound only after a tap, so the tap that starts the clock opens it. */
function ring() {
  navigator.vibrate?.([400, 200, 400]);
  if (!sound) return;
  for (const after of [0, 0.35, 0.7]) {
    const tone = new OscillatorNode(sound, { frequency: 880 });
    const volume = new GainNode(sound, { gain: 0.4 });
    tone.connect(volume).connect(sound.destination);
    tone.start(sound.currentTime + after);
    tone.stop(sound.currentTime + after + 0.22);
  }
}

/**
 * Lets a sheet count down a soak. What is hidden does not ring: the heat is off.
 * @param {HTMLElement} sheet with data-run, the request that began the run, and data-minutes
 */
export function runSoak(sheet) {
  const key = `soak:${sheet.dataset.run}`;
  const lasts = Number(sheet.dataset.minutes) * 60_000;
  const [left, says] = [sheet.querySelector("[data-left]"), sheet.querySelector("[data-says]")];
  const figure = left.parentElement.matches(".elapsed") ? left.parentElement : left;
  const [begin, end] = [sheet.querySelector("[data-begin]"), sheet.querySelector("[data-end]")];
  const before = says.textContent || SAID;
  let over = false;

  const show = () => {
    if (!sheet.isConnected) return clearInterval(ticks);
    const since = Number(localStorage.getItem(key) ?? 0);
    begin.hidden = since > 0;
    end.hidden = !since;
    figure.hidden = !since;
    if (!since) {
      left.textContent = "";
      says.textContent = before;
      over = false;
      return;
    }
    const rest = since + lasts - Date.now();
    left.textContent = leftText(rest);
    if (rest > 0) {
      if (says.textContent !== RUNS) says.textContent = RUNS;
      return;
    }
    if (!over) {
      over = true;
      says.setAttribute("role", "alert");
      says.textContent = OVER;
    }
    if (!sheet.closest("[hidden]")) ring();
  };

  begin.addEventListener("click", () => {
    sound ??= new AudioContext();
    localStorage.setItem(key, String(Date.now()));
    show();
  });
  end.addEventListener("click", () => {
    localStorage.removeItem(key);
    show();
  });
  sheet.hidden = false;
  const ticks = setInterval(show, 1000);
  show();
}

const sheet = document.getElementById("soak-alarm");
if (sheet) runSoak(sheet);
