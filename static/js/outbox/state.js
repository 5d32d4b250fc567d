/* What waits and how the server is reached, said in every [data-sending-state] and, when the count changes, aloud. */

import { mark } from "../mark.js";
import { onChange } from "./changes.js";
import { summary } from "./outbox.js";
import { openStore } from "./store.js";

const MB = 1024 * 1024;
const AT_MOST_EVERY = 250;

/**
 * The words of the sending state; pure.
 * @param {object} counted what summary() says
 * @param {string} outcome of the last look at the server: "here", "unreachable", "signed-out", "unknown" or ""
 * @returns {{mark: string, main: string, more: string}|null} null when there is nothing to say
 */
export function stateWords(counted, outcome) {
  const more = [];
  if (counted.unkept) more.push("do not close this page");
  if (outcome === "unreachable") more.push("no signal");
  else if (outcome === "signed-out") more.push("sign in to send");
  else if (counted.refused && counted.refused < counted.count) more.push(`${counted.refused} not taken`);
  else if (counted.held) more.push(`${counted.held} held`);
  if (counted.count) return { mark: markOf(counted, outcome), main: waitingWords(counted), more: more.join(" · ") };
  if (outcome === "unreachable") return { mark: "offline", main: "No signal", more: "" };
  return counted.sentToday ? { mark: "sent", main: "All sent", more: "" } : null;
}

function markOf(counted, outcome) {
  if (counted.refused || counted.unkept) return "refused";
  return outcome === "unreachable" ? "offline" : "waiting";
}

function waitingWords({ count, bytes, refused }) {
  if (refused === count) return `${count} not taken`;
  return bytes ? `${count} waiting · ${sizeWords(bytes)}` : `${count} waiting`;
}

/** @returns {string} bytes as people say them, such as "12 MB". */
export function sizeWords(bytes) {
  if (bytes >= 1000 * MB) return `${(bytes / MB / 1024).toFixed(1)} GB`;
  return bytes < MB ? `${Math.max(1, Math.round(bytes / 1024))} kB` : `${(bytes / MB).toFixed(bytes < 10 * MB ? 1 : 0)} MB`;
}

/**
 * Keeps every [data-sending-state] of the page true.
 * @param {{url: string, kept: string}} given address of captured/ whose reach is shown, and of the page kept/
 */
export function showState({ url, kept }) {
  let outcome = "";
  let timer = 0;
  const heard = document.createElement("p");
  heard.className = "only-heard";
  heard.setAttribute("role", "status");
  document.body.append(heard);
  let spoken = 0;
  const show = async () => {
    const counted = summary(await (await openStore()).all());
    document.documentElement.dataset.waiting = String(counted.count);
    document.documentElement.dataset.reach = outcome;
    const words = stateWords(counted, outcome);
    for (const link of document.querySelectorAll("[data-sending-state]")) fill(link, words, kept);
    if (counted.count !== spoken) heard.textContent = counted.count ? `${words.main}, kept on this phone` : "All sent";
    spoken = counted.count;
  };
  // Many changes come close together while photos go up.
  const soon = () => {
    timer ||= setTimeout(() => {
      timer = 0;
      show();
    }, AT_MOST_EVERY);
  };
  onChange((news) => {
    if (news.why === "progress" || (news.why === "status" && news.url !== url)) return;
    if (news.why === "status") outcome = news.outcome;
    soon();
  });
  addEventListener("offline", () => {
    outcome = "unreachable";
    show();
  });
  show();
}

function fill(link, words, kept) {
  link.hidden = !words;
  if (!words) return;
  const text = document.createElement("span");
  text.append(words.main);
  if (words.more) text.append(Object.assign(document.createElement("small"), { textContent: words.more }));
  link.href = kept;
  link.replaceChildren(mark(words.mark), text);
}
