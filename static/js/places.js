/* Where a photo can go: assemblies, parts, bins and lots as the status tells them. Knows no page and no store. */

/**
 * @param {object|null} status what GET captured/ said last
 * @returns {Map<string, {key: string, kind: string, number: string, name: string, depth?: number, assembly?: string}>}
 */
export function placesOf(status) {
  const kinds = [
    ["assembly", "assemblies"],
    ["part", "parts"],
    ["bin", "bins"],
    ["lot", "lots"],
  ];
  const rows = kinds.flatMap(([kind, list]) => (status?.places?.[list] ?? []).map((place) => ({ ...place, kind })));
  return new Map(rows.map((place) => [place.key, place]));
}

/** @returns {string} number and name; a place that this phone has not heard of yet is said to be one. */
export function placeWords(places, key) {
  if (!key) return "no place yet";
  const place = places.get(key);
  return place ? `${place.number} ${place.name}` : "a place that this phone does not know yet";
}

/**
 * Where the next photo goes before anybody chooses: as the label says; else where the last choice was made, unless a timer
 * was started since; else where the server saw the last one.
 * @param {object} given
 * @param {string} given.label key in the address, "" when there is none
 * @param {{key: string, at: number}|null} given.chosen the last choice on this phone
 * @param {{assembly: string, started: number}|null} given.timer the timer that runs for this person
 * @param {string|null} given.last last_place of the status
 * @returns {{key: string, why: string}}
 */
export function nextPlace({ label, chosen, timer, last }) {
  if (label) return { key: label, why: "As the label says" };
  if (timer && !(chosen?.at > timer.started)) return { key: timer.assembly, why: "Where the timer runs" };
  if (chosen?.key) return { key: chosen.key, why: "Same as last time" };
  if (!chosen && last) return { key: last, why: "Same as last time" };
  return { key: "", why: "It waits in the tray until you say where it belongs" };
}

/**
 * The places in the order of the list: those worked on last, then the tree with the parts under their assembly, bins, lots.
 * @param {Map} places
 * @param {string[]} recent keys of assemblies
 * @returns {{recent: object[], assemblies: {place: object, parts: object[]}[], bins: object[], lots: object[]}}
 */
export function inOrder(places, recent) {
  const all = [...places.values()];
  const of = (kind) => all.filter((place) => place.kind === kind);
  const parts = byAssembly(of("part"));
  return {
    recent: recent.map((key) => places.get(key)).filter(Boolean),
    assemblies: of("assembly").map((place) => ({ place, parts: parts.get(place.key) ?? [] })),
    bins: of("bin"),
    lots: of("lot"),
  };
}

function byAssembly(parts) {
  const found = new Map();
  for (const part of parts) found.set(part.assembly, [...(found.get(part.assembly) ?? []), part]);
  return found;
}

/** @returns {object[]} the places whose number or name has every word of `wanted`. */
export function matching(places, wanted) {
  const words = wanted.toLowerCase().split(/\s+/).filter(Boolean);
  return [...places.values()].filter((place) => {
    const text = `${place.number} ${place.name}`.toLowerCase();
    return words.every((word) => text.includes(word));
  });
}
