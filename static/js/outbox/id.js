/* Ids made on the phone, unique for ever, so that a thing sent twice is kept once. */

/** @returns {string} 22 url-safe characters from 16 random bytes. */
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
}
