/* Sends one photo to the record and says what became of it. Resolves with what the server keeps, rejects with a sentence. */

const NO_CONNECTION = "No connection. The photo is still here; try again when there is signal.";
const NOT_UNDERSTOOD = "The server gave no clear answer, so the photo may not be kept. Try again; it never counts twice.";

/* What a response means: the kept photo, or an Error whose message is for the person; `final` when the photo itself was
   refused, so that sending it again is of no use. Never believes a status alone. */
export function meaning(status, text) {
  let body = null;
  try {
    body = JSON.parse(text);
  } catch {
    return new Error(NOT_UNDERSTOOD);
  }
  if ((status === 200 || status === 201) && body?.id && body?.digest) return body;
  const trouble = new Error(body?.error || NOT_UNDERSTOOD);
  trouble.final = Boolean(body?.error) && (status === 413 || status === 422);
  return trouble;
}

/* One upload: `sent` resolves with the kept photo, `stop` gives it up. `tell` hears the share sent, 0 to 1. */
export function sendPhoto(file, { url, token, fields = {}, tell = () => {} }) {
  const request = new XMLHttpRequest();
  const sent = new Promise((resolve, reject) => {
    request.upload.addEventListener("progress", (event) => {
      if (event.lengthComputable) tell(event.loaded / event.total);
    });
    request.addEventListener("load", () => {
      const result = meaning(request.status, request.responseText);
      if (result instanceof Error) reject(result);
      else resolve(result);
    });
    request.addEventListener("error", () => reject(new Error(NO_CONNECTION)));
    request.addEventListener("abort", () => reject(new Error("Stopped.")));
  });
  request.open("POST", url);
  request.setRequestHeader("Accept", "application/json");
  request.setRequestHeader("X-CSRFToken", token);
  request.send(formOf(file, fields));
  return { sent, stop: () => request.abort() };
}

function formOf(file, fields) {
  const form = new FormData();
  form.set("photo", file, file.name);
  form.set("file_time", String(file.lastModified));
  for (const [name, value] of Object.entries(fields)) form.set(name, value);
  return form;
}
