/* Sentences for the person, in the place where the server's own stand. */

import { mark } from "./mark.js";

const NEXT = "tell-next";

/* Pages that are kept come without messages: those of the moment would be shown again and again. */
function place() {
  const there = document.getElementById("messages");
  if (there) return there;
  const made = Object.assign(document.createElement("div"), { id: "messages", className: "messages stack" });
  made.setAttribute("role", "status");
  document.getElementById("main").prepend(made);
  return made;
}

/** Says something on this page. */
export function tellNow(words) {
  const notice = document.createElement("div");
  const text = document.createElement("div");
  notice.className = "notice waiting";
  text.append(Object.assign(document.createElement("p"), { textContent: words }));
  notice.append(mark("waiting"), text);
  place().append(notice);
  notice.scrollIntoView({ block: "nearest" });
}

/** Says something on the next page of this site that is opened in this window. */
export function tellNext(words) {
  try {
    sessionStorage.setItem(NEXT, words);
  } catch {
    // Where nothing is stored the next page shows what is kept all the same.
  }
}

/** Says what the page before left to say. */
export function tellWhatWasLeft() {
  try {
    const words = sessionStorage.getItem(NEXT);
    sessionStorage.removeItem(NEXT);
    if (words) tellNow(words);
  } catch {
    // Nothing was stored.
  }
}
