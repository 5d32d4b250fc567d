/* Sizes and times as people say them. */

const UNITS = ["bytes", "kB", "MB", "GB", "TB"];

/** @param {number} bytes @returns {string} such as "2.5 GB" */
export function sizeWords(bytes) {
  const step = Math.min(UNITS.length - 1, Math.floor(Math.log10(Math.max(bytes, 1)) / 3));
  const amount = bytes / 1000 ** step;
  return `${step && amount < 10 ? amount.toFixed(1) : Math.round(amount)} ${UNITS[step]}`;
}

/** @param {number|null} ms @returns {string} such as "about 6 minutes left"; empty when it is not known */
export function leftWords(ms) {
  if (ms === null) return "";
  const minutes = Math.round(ms / 60_000);
  if (minutes < 1) return "less than a minute left";
  if (minutes < 90) return `about ${minutes} minute${minutes === 1 ? "" : "s"} left`;
  return `about ${Math.round(minutes / 60)} hours left`;
}

/** @returns {string} such as "1 file" or "500 files" */
export function fileWords(count) {
  return `${count} file${count === 1 ? "" : "s"}`;
}
