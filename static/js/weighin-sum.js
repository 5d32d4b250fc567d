/* Weight and center of gravity of what was typed so far, for a look before anything is kept; the server works it out exactly
   (certification/rules/balance.py). Knows no page. */

const MASS = { g: 1, kg: 1000, oz: 28.349523125, lb: 453.59237, lbs: 453.59237 };
const LENGTH = { mm: 1, cm: 10, m: 1000, in: 25.4, inch: 25.4, '"': 25.4, ft: 304.8, "'": 304.8 };
const AMOUNT = /^([-+−–]?)\s*(\d+(?:[.,]\d+)?|[.,]\d+)\s*([a-z"']*)$/i;

/**
 * @param {string} text such as "524 lb", "12,5", "-40 mm"
 * @param {"mass"|"length"} kind
 * @param {string} meant the unit where none is written
 * @returns {number|null|undefined} grams or millimeters; null where nothing is typed, undefined for what only the server reads
 */
export function amount(text, kind, meant) {
  const typed = text.trim();
  if (!typed) return null;
  const found = AMOUNT.exec(typed);
  const size = found && (kind === "mass" ? MASS : LENGTH)[(found[3] || meant).toLowerCase()];
  // 1,200 can be read in two ways, so the server refuses it.
  if (!size || /[1-9]\d*,\d{3}$/.test(found[2])) return undefined;
  return Number(found[2].replace(",", ".")) * size * (found[1] && found[1] !== "+" ? -1 : 1);
}

/**
 * @param {{reading: string, tare?: string, arm: string, sign?: 1|-1}[]} rows
 * @param {{mass: string, length: string}} meant
 * @returns {{state: "none"|"server"|"weight"|"whole", weight?: number, arm?: number}} in grams and millimeters; "weight" while an
 *   arm is missing, "server" where something typed is only read there
 */
export function sum(rows, meant) {
  let [weight, moment, hasArms, count] = [0, 0, true, 0];
  for (const row of rows) {
    const [reading, tare] = [row.reading, row.tare ?? ""].map((text) => amount(text, "mass", meant.mass));
    const arm = amount(row.arm, "length", meant.length);
    if ([reading, tare, arm].includes(undefined)) return { state: "server" };
    if (reading === null) continue;
    const net = (row.sign ?? 1) * (reading - (tare ?? 0));
    weight += net;
    moment += net * (arm ?? 0);
    hasArms &&= arm !== null;
    count += 1;
  }
  if (!count || weight <= 0) return { state: "none" };
  return hasArms ? { state: "whole", weight, arm: moment / weight } : { state: "weight", weight };
}

/**
 * @param {ReturnType<typeof sum>} found
 * @param {{mass: string, length: string}} shown
 */
export function words(found, shown) {
  if (found.state === "none") return "Nothing is read yet.";
  if (found.state === "server") return "Keep it: what is typed here is worked out on its page.";
  const weight = `${(found.weight / MASS[shown.mass]).toFixed(1)} ${shown.mass}`;
  if (found.state === "weight") return `${weight}. An arm is missing for the center of gravity.`;
  const arm = found.arm / LENGTH[shown.length];
  const figure = Math.abs(arm).toFixed(shown.length === "in" ? 2 : 1);
  return `${weight}, center of gravity ${figure} ${shown.length} ${arm < 0 ? "forward" : "aft"} of the datum`;
}
