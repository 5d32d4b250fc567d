/* One photo on the capture page, as a card: its picture, where it is kept, undo, tags and words. */

import { say, showMark, whenWords } from "./here.js";
import { putBack, retag, undo } from "./outbox/outbox.js";
import { sizeWords } from "./outbox/state.js";
import { openStore } from "./outbox/store.js";

const NOUNS = { video: "clip", audio: "voice note" };
const TYPING = "words-being-typed";
const PAUSE = 600;

/**
 * Where a captured file is kept; pure.
 * @param {object} item
 * @returns {{kept: "phone"|"server"|"memory"|"off", mark: string, words: string, trouble: string}}
 */
export function keptWords(item) {
  if (item.state === "undone" || item.withdrawn) return { kept: "off", mark: "undone", words: "Taken off", trouble: "" };
  if (item.state === "sent") return { kept: "server", mark: "sent", words: `Kept on the server ${item.answer?.label ?? ""}`.trim(), trouble: "" };
  if (item.in_memory || item.file.kept === false) return { kept: "memory", mark: "refused", words: "Not kept on this phone", trouble: stayOpen(item.trouble) };
  const words = item.state === "refused" ? "Kept on this phone, not taken by the server" : "Kept on this phone";
  return { kept: "phone", mark: item.state === "refused" ? "refused" : "waiting", words, trouble: item.trouble };
}

/* What was tried since must not hide that the page is all there is. */
function stayOpen(trouble) {
  return /do not close/.test(trouble) ? trouble : `Only in this page: do not close it until it is sent. ${trouble}`.trim();
}

/** @returns {string} "photo", "clip" or "voice note", by the type that the browser gives a file. */
export function nounOf(type) {
  return NOUNS[type.split("/")[0]] ?? "photo";
}

export class Shot {
  /* `words(item)` says where it goes. */
  constructor({ template, where, most }) {
    this.where = where;
    this.most = most;
    this.item = null;
    this.said = {};
    this.node = template.content.firstElementChild.cloneNode(true);
    this.part("undo").addEventListener("click", () => undo(this.item.id));
    this.part("put-back").addEventListener("click", () => this.putBack());
    for (const tag of this.node.querySelectorAll("[data-shows]")) tag.addEventListener("click", () => this.tag(tag));
    this.part("builder").addEventListener("click", ({ currentTarget }) => this.toggleBuilder(currentTarget));
    this.listenToWords();
  }

  part(name) {
    return this.node.querySelector(`[data-${name}]`);
  }

  /* Shows what the browser can show of it; a sound or a strange format keeps the mark. */
  picture(blob) {
    if (!blob || /^audio\//.test(blob.type)) return;
    const address = URL.createObjectURL(blob);
    this.load(address, () => URL.revokeObjectURL(address));
  }

  load(address, done = () => {}) {
    const image = this.node.querySelector("img");
    image.decoding = "async";
    image.onload = () => {
      image.hidden = false;
      this.part("no-picture").hidden = true;
      done();
    };
    image.onerror = done;
    image.src = address;
  }

  /* A file that could not be read never became an item. */
  fail(words) {
    showMark(this.node, "refused");
    this.node.toggleAttribute("data-refused", true);
    this.part("words").textContent = "Not kept";
    say(this.part("trouble"), words);
    this.part("tags").hidden = true;
  }

  async become(item) {
    const said = this.said;
    this.item = item;
    if (Object.keys(said).length) await retag(item.id, said);
    this.draw(item);
    await this.takeUpWords();
  }

  draw(item) {
    this.item = item;
    const { kept, mark, words, trouble } = keptWords(item);
    this.node.dataset.kept = kept;
    this.node.dataset.id = item.id;
    this.node.toggleAttribute("data-refused", mark === "refused");
    showMark(this.node, mark);
    this.part("words").textContent = words;
    say(this.part("trouble"), trouble || this.tooLarge(item));
    say(this.part("where"), this.where(item));
    this.part("facts").textContent = `${whenWords(item.happened)} · ${sizeWords(item.file.size)}`;
    this.part("session").hidden = !item.fields.session;
    this.drawActs(item, kept);
    this.drawTags({ ...item.fields, ...this.said });
  }

  sending(share) {
    if (this.node.dataset.kept === "phone") this.part("words").textContent = `Kept on this phone, ${Math.floor(share * 100)} % sent`;
  }

  tooLarge({ file, state }) {
    const most = file.type.startsWith("image/") ? this.most?.photo : this.most?.clip;
    if (state === "sent" || !most || file.size <= most) return "";
    return `It has ${sizeWords(file.size)}; the server takes ${sizeWords(most)} at most. Keep a copy of it.`;
  }

  drawActs(item, kept) {
    this.part("undo").hidden = kept === "off";
    this.part("put-back").hidden = kept !== "off" || this.gone;
    this.part("tags").hidden = kept === "off";
    const page = this.part("page");
    page.hidden = item.state !== "sent" || !item.answer?.page;
    if (!page.hidden) page.href = item.answer.page;
    this.part("page-name").textContent = ` ${item.answer?.label ?? ""}`;
  }

  drawTags({ shows = "", builder_in_frame: builder = "", caption = "" }) {
    for (const tag of this.node.querySelectorAll("[data-shows]")) tag.setAttribute("aria-pressed", String(tag.dataset.shows === shows));
    this.part("builder").setAttribute("aria-pressed", String(builder === "1"));
    const words = this.part("caption");
    if (document.activeElement !== words && !this.typing) words.value = caption;
    const chosen = this.node.querySelector(`[data-shows="${shows || "none"}"]`);
    this.part("said").textContent = [chosen?.textContent.trim(), builder === "1" && "builder", caption].filter(Boolean).join(", ");
  }

  tag(button) {
    const pressed = button.getAttribute("aria-pressed") === "true";
    this.change({ shows: pressed ? "" : button.dataset.shows });
  }

  toggleBuilder(button) {
    this.change({ builder_in_frame: button.getAttribute("aria-pressed") === "true" ? "" : "1" });
  }

  /* What is tapped while the file is still being read goes with it. */
  change(fields) {
    this.said = { ...this.said, ...fields };
    this.drawTags({ ...this.item?.fields, ...this.said });
    return this.item ? retag(this.item.id, fields) : undefined;
  }

  async putBack() {
    if (await putBack(this.item.id)) return;
    this.gone = true;
    this.part("put-back").hidden = true;
    say(this.part("trouble"), "The server has taken it off already. Open it to put it back.");
  }

  /* Words are a change each time they are left; between that they are remembered letter by letter. */
  listenToWords() {
    const words = this.part("caption");
    let pause = 0;
    words.addEventListener("input", () => {
      this.typing = true;
      clearTimeout(pause);
      pause = setTimeout(() => this.rememberWords(words.value), PAUSE);
    });
    const leave = () => {
      clearTimeout(pause);
      if (this.typing) this.keepWords(words.value.trim());
    };
    words.addEventListener("change", leave);
    document.addEventListener("visibilitychange", () => document.hidden && leave());
  }

  async rememberWords(caption) {
    if (this.typing && this.item) await (await openStore()).remember(TYPING, { id: this.item.id, caption });
  }

  async keepWords(caption) {
    this.typing = false;
    await this.change({ caption });
    if (this.item) await (await openStore()).remember(TYPING, null);
  }

  /* What was being typed when the page was lost. */
  async takeUpWords() {
    const typed = await (await openStore()).recall(TYPING);
    if (typed?.id === this.item.id && typed.caption !== (this.item.fields.caption ?? "")) await this.keepWords(typed.caption.trim());
  }
}
