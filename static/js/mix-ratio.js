/* The ratio of a mix as process/rules/mixes.py judges it, for the page before anything is kept: exact, by whole numbers. What
   the server says when it is kept is what counts. Knows no page. Change both together; tests/browser/test_layup.py compares. */

const AMOUNT = /^\s*(\d+(?:[.,]\d+)?|[.,]\d+)\s*(g|kg|oz|lb|ml|l)?\s*$/i;
/* Grams or milliliters in one unit, as a fraction. */
const UNITS = {
  weight: { "": [1n, 1n], g: [1n, 1n], kg: [1000n, 1n], oz: [28_349_523_125n, 1_000_000_000n], lb: [45_359_237n, 100_000n] },
  volume: { "": [1n, 1n], ml: [1n, 1n], l: [1000n, 1n] },
};

/**
 * @param {string} text a number as typed, with a point or a comma
 * @returns {{n: bigint, d: bigint}|null} null for what is none, or can be read in two ways
 */
export function number(text) {
  const match = /^\s*(\d*)(?:([.,])(\d+))?\s*$/.exec(text);
  if (!match || !(match[1] || match[3])) return null;
  const [, whole, mark = "", after = ""] = match;
  if (mark === "," && after.length === 3 && /[1-9]/.test(whole)) return null;
  return { n: BigInt(whole + after || "0"), d: 10n ** BigInt(after.length) };
}

/**
 * @param {string} text such as "145.2", "12,5 g", "60 mL"
 * @param {"weight"|"volume"} by
 * @returns {{n: bigint, d: bigint}|null} grams or milliliters; null for what only the server reads
 */
export function amount(text, by) {
  const match = AMOUNT.exec(text);
  const size = match && number(match[1]);
  const unit = match && UNITS[by][(match[2] ?? "").toLowerCase()];
  return size && unit ? { n: size.n * unit[0], d: size.d * unit[1] } : null;
}

/**
 * @param {object} typed
 * @param {"weight"|"volume"} typed.by
 * @param {string} typed.partsResin
 * @param {string} typed.partsHardener
 * @param {string} typed.window percent either way
 * @param {string} typed.resin
 * @param {string} typed.hardener
 * @param {{step: string, percent: string}} [typed.scale] its resolution in grams, its error in percent of the reading
 * @returns {{state: "good"|"bad"|"open", per100?: string, deviation?: string, fix?: {of: string, add: string},
 *   worst?: {low: string, high: string, inside: boolean}}} "open" while something is missing or only the server reads it
 */
export function judgeMix(typed) {
  const by = typed.by === "volume" ? "volume" : "weight";
  const [resin, hardener] = [amount(typed.resin, by), amount(typed.hardener, by)];
  const [parts, other, window] = [typed.partsResin, typed.partsHardener, typed.window].map(number);
  if (![resin, hardener, parts, other].every((one) => one && one.n > 0n) || !window) return { state: "open" };
  // resin / hardener against parts / other, on one denominator.
  const got = resin.n * hardener.d * parts.d * other.n;
  const wanted = parts.n * other.d * resin.d * hardener.n;
  const off = got > wanted ? got - wanted : wanted - got;
  const isGood = off * 100n * window.d <= window.n * wanted;
  const share = ratio(hardener.n * resin.d, hardener.d * resin.n);
  const target = ratio(parts.n * other.d, parts.d * other.n);
  const said = { state: isGood ? "good" : "bad", per100: (share * 100).toFixed(1), deviation: signed(ratio(got - wanted, wanted) * 100) };
  if (!isGood) said.fix = fixOf(ratio(resin.n, resin.d), ratio(hardener.n, hardener.d), target);
  const worst = by === "weight" && typed.scale && worstOf(ratio(resin.n, resin.d), ratio(hardener.n, hardener.d), target, ratio(window.n, window.d), typed.scale);
  if (worst) said.worst = worst;
  return said;
}

/**
 * The pot life at the pot's own temperature by the rule of thumb: it doubles for each 10 degC cooler. For alarms only.
 * @param {string} minutes as the sheet gives it, for 25 °C
 * @param {string} temperature such as "30 °C", "86 °F"
 * @param {"C"|"F"} meant the unit where none is written
 * @returns {number|null} whole minutes
 */
export function potHint(minutes, temperature, meant) {
  const match = /^\s*(-?\d+(?:[.,]\d+)?)\s*°?\s*([CF])?\s*$/i.exec(temperature);
  const life = number(minutes);
  if (!match || !life?.n) return null;
  const shown = Number(match[1].replace(",", "."));
  const celsius = (match[2] ?? meant).toUpperCase() === "F" ? ((shown - 32) * 5) / 9 : shown;
  if (celsius < -20 || celsius > 80) return null;
  return Math.round(ratio(life.n, life.d) * 2 ** (-(celsius - 25) / 10));
}

/* What is to be added so that the ratio is right. */
function fixOf(resin, hardener, target) {
  const needed = resin / target;
  return needed > hardener ? { of: "hardener", add: (needed - hardener).toFixed(1) } : { of: "resin", add: (hardener * target - resin).toFixed(1) };
}

/* Hardener per 100 at the ends of what the scale can be wrong by. */
function worstOf(resin, hardener, target, window, { step, percent }) {
  const [each, share] = [Number(step || 0), Number(percent || 0) / 100];
  const [resinOff, hardenerOff] = [each + resin * share, each + hardener * share];
  if (!(each || share) || resinOff >= resin || hardenerOff >= hardener) return null;
  const [low, high] = [(resin - resinOff) / (hardener + hardenerOff), (resin + resinOff) / (hardener - hardenerOff)];
  const inside = low >= target * (1 - window / 100) && high <= target * (1 + window / 100);
  return { low: (100 / high).toFixed(1), high: (100 / low).toFixed(1), inside };
}

function ratio(top, bottom) {
  return Number((top * 10n ** 12n) / bottom) / 1e12;
}

function signed(value) {
  const words = value.toFixed(1);
  return value < 0 || words.startsWith("-") ? words : `+${words}`;
}
