/* Talking to the server: what it knows, and one post at a time. A redirect is never an answer, nor is a status alone. */

const STATUS_PATIENCE = 8_000;
const STALL = 45_000;
const JSON_PLEASE = { Accept: "application/json" };

/**
 * Asks the status address of a project.
 * @param {string} url address of captured/
 * @param {number} [patience] milliseconds
 * @returns {Promise<{outcome: "here"|"signed-out"|"unknown"|"unreachable", status?: object}>} "unknown": the server does not
 *   know this project for whoever is signed in
 */
export async function askStatus(url, patience = STATUS_PATIENCE) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), patience);
  try {
    const response = await fetch(url, { headers: JSON_PLEASE, redirect: "manual", cache: "no-store", signal: stop.signal });
    const body = await response.json();
    if (response.status === 200 && body.csrf && body.person) return { outcome: "here", status: body };
    if (response.status === 401 && body.error) return { outcome: "signed-out" };
    if (response.status === 404 && body.error) return { outcome: "unknown" };
  } catch {
    // No answer, or not ours.
  } finally {
    clearTimeout(timer);
  }
  return { outcome: "unreachable" };
}

/**
 * Posts and waits for the answer; gives up when nothing moves for 45 seconds.
 * @param {string} url
 * @param {object} given
 * @param {string} given.token
 * @param {FormData|URLSearchParams|Blob} given.body
 * @param {string} [given.method]
 * @param {(share: number) => void} [given.tell] hears the share sent, 0 to 1
 * @returns {Promise<{status: number, body: object|null}>} status 0 when there was no answer; body null when it is not ours
 */
export function ask(url, { token, body, method = "POST", tell = () => {} }) {
  return new Promise((resolve) => {
    const request = new XMLHttpRequest();
    let timer = 0;
    const moved = () => {
      clearTimeout(timer);
      timer = setTimeout(() => request.abort(), STALL);
    };
    request.onloadend = () => {
      clearTimeout(timer);
      resolve(request.status && isFrom(request, url) ? { status: request.status, body: read(request.responseText) } : { status: 0, body: null });
    };
    request.onreadystatechange = moved;
    request.upload.onprogress = (event) => {
      moved();
      if (event.lengthComputable) tell(event.loaded / event.total);
    };
    request.open(method, url);
    for (const [name, value] of Object.entries({ ...JSON_PLEASE, "X-CSRFToken": token })) request.setRequestHeader(name, value);
    moved();
    request.send(body);
  });
}

/* The browser follows redirects by itself; what came from another address was answered by somebody else. */
function isFrom(request, url) {
  return request.responseURL === new URL(url, location.href).href;
}

function read(text) {
  try {
    const body = JSON.parse(text);
    return body && typeof body === "object" ? body : null;
  } catch {
    return null;
  }
}
