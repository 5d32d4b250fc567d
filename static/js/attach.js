/* Photos in a form: each is kept on this phone the moment it is chosen, shown with its state, and sent by the outbox. A
   reload of the form shows those that still wait. Without this file the form sends them itself. The markup is
   templates/evidence/_attach.html. */

import { onChange } from "./outbox/changes.js";
import { isOpen, keepPhoto, tryAgain, undo } from "./outbox/outbox.js";
import { sizeWords } from "./outbox/state.js";
import { openStore } from "./outbox/store.js";

const AWAY = "Not with this session any more; the photo stays under Photos.";
const { project, person, captured: url } = document.body.dataset;
const attaches = [];

/** The photos of a form, for whoever saves it. */
export function attachesOf(form) {
  return attaches.filter((attach) => attach.form === form);
}

/** Takes the photos of a form off it: of the next form in the same place they are no part. */
export async function release(ids, fields = {}) {
  const store = await openStore();
  for (const id of ids) {
    await store.change(id, (item) => ({ form: "", fields: item.state === "sent" ? item.fields : { ...item.fields, ...fields } }));
  }
}

/** Every photo that belongs to the form on this page, also one that the server has by now. */
export async function photosOfPage() {
  return (await (await openStore()).all()).filter((item) => item.form === location.pathname && item.state !== "undone");
}

/* One photo in the form. `item` is null until it is kept; `trouble` says why it never will be. */
class Attached {
  constructor(file, figure) {
    Object.assign(this, { file, figure, item: null, trouble: "", share: 0 });
  }

  get isSent() {
    return this.item?.state === "sent";
  }

  get isRefused() {
    return Boolean(this.trouble) || this.item?.state === "refused";
  }

  get isUnderway() {
    return !this.isSent && !this.isRefused;
  }

  /* Underway, but not going anywhere now. */
  get isLate() {
    return this.isUnderway && (this.item?.state === "held" || (this.item?.state === "waiting" && this.item.next_try > 0));
  }

  get isOnlyHere() {
    return this.isUnderway && (!this.item || this.item.in_memory || this.item.file.kept === false);
  }

  get words() {
    if (this.isSent) return "Sent";
    if (this.trouble) return this.trouble;
    if (!this.item) return "Being read";
    if (this.item.state === "sending") return this.share < 1 ? `${Math.floor(this.share * 100)} % sent` : "Being checked";
    return this.item.trouble || "Kept on this phone";
  }
}

class Attach {
  constructor(box) {
    this.box = box;
    this.form = box.closest("form");
    this.list = box.querySelector("[data-attach-list]");
    this.template = box.querySelector("template[data-attach-figure]");
    this.status = box.querySelector("[data-attach-status]");
    this.photos = [];
    this.away = "";
    box.classList.add("live");
    for (const input of box.querySelectorAll("input[type=file]")) this.listen(input);
    for (const figure of this.list.querySelectorAll("[data-attached]")) this.makeRemovable(figure);
    for (const label of box.querySelectorAll(".drop")) this.acceptDrops(label);
    onChange((news) => this.hear(news));
    this.restore();
  }

  get underway() {
    return this.photos.filter((photo) => photo.isUnderway);
  }

  get refused() {
    return this.photos.filter((photo) => photo.isRefused);
  }

  listen(input) {
    input.addEventListener("change", () => {
      this.choose([...input.files]);
      input.value = "";
    });
  }

  acceptDrops(label) {
    const mark = (over) => (event) => {
      event.preventDefault();
      label.classList.toggle("over", over);
    };
    label.addEventListener("dragover", mark(true));
    label.addEventListener("dragleave", mark(false));
    label.addEventListener("drop", (event) => {
      mark(false)(event);
      this.choose([...event.dataTransfer.files]);
    });
  }

  /* All are shown at once; they are read one after the other, so that many files never lie in memory together. */
  async choose(files) {
    this.away = "";
    const photos = files.map((file) => this.show(file, file.name));
    for (const photo of photos) await this.keep(photo);
  }

  async keep(photo) {
    const { file } = photo;
    const most = Number(/^(video|audio)\//.test(file.type) ? this.box.dataset.mostClip : this.box.dataset.most) || Infinity;
    if (file.size > most) photo.trouble = `The file has ${sizeWords(file.size)}; at most ${sizeWords(most)} are taken.`;
    else {
      try {
        const { into } = this.box.dataset;
        const given = { project, person, url, file, into, form: location.pathname, label: `Photo ${file.name}` };
        photo.item = (await keepPhoto(given)).item;
        if (!this.photos.includes(photo)) await undo(photo.item.id);
      } catch (trouble) {
        photo.trouble = trouble.message;
      }
    }
    await this.look(photo);
  }

  /* What was chosen before a reload: what still waits, and what was sent meanwhile and is not in the form yet. */
  async restore() {
    const store = await openStore();
    for (const item of await photosOfPage()) {
      const isThere = this.photos.some((photo) => photo.item?.id === item.id) || this.has(item.answer?.id);
      if (isThere || !(isOpen(item) || (item.state === "sent" && this.box.dataset.name))) continue;
      const photo = this.show(await store.bytes(item.id), item.file.name, item.answer?.thumb);
      photo.item = item;
      this.draw(photo);
    }
  }

  has(key) {
    return Boolean(key) && [...this.list.querySelectorAll("input[type=hidden]")].some((input) => input.value === key);
  }

  async hear({ id, why, share }) {
    const photo = id && this.photos.find((one) => one.item?.id === id);
    if (!photo) return;
    photo.share = why === "progress" ? share : photo.share;
    if (why === "progress") this.draw(photo);
    else await this.look(photo);
  }

  /* The item as it is now: it may have been sent between being kept and being looked at. */
  async look(photo) {
    if (photo.item) photo.item = (await (await openStore()).get(photo.item.id)) ?? photo.item;
    if (this.photos.includes(photo)) this.draw(photo);
  }

  /* A photo attached before gets a button in place of the tick box. */
  makeRemovable(figure) {
    const button = figure.querySelector("[data-remove]");
    figure.querySelector("[data-without-script]")?.remove();
    button.hidden = false;
    button.addEventListener("click", () => {
      this.away = AWAY;
      this.takeAway(figure);
      this.say();
    });
  }

  takeAway(figure) {
    const near = figure.nextElementSibling ?? figure.previousElementSibling;
    figure.remove();
    (near?.querySelector("button:not([hidden])") ?? this.box.querySelector("input[type=file]")).focus();
  }

  show(blob, name, address) {
    const figure = this.template.content.firstElementChild.cloneNode(true);
    const photo = new Attached(blob, figure);
    figure.querySelector("[data-file-name]").textContent = name;
    for (const heard of figure.querySelectorAll("[data-heard]")) heard.textContent = ` ${name}`;
    figure.querySelector("[data-retry]").addEventListener("click", () => tryAgain(photo.item.id));
    figure.querySelector("[data-remove]").addEventListener("click", () => this.remove(photo));
    preview(figure, blob, address);
    this.photos.push(photo);
    this.list.append(figure);
    this.draw(photo);
    return photo;
  }

  async remove(photo) {
    this.away = photo.isSent ? AWAY : "";
    this.photos = this.photos.filter((one) => one !== photo);
    this.takeAway(photo.figure);
    this.changed();
    if (photo.isSent) await release([photo.item.id]);
    else if (photo.item) await undo(photo.item.id);
  }

  draw(photo) {
    const { figure } = photo;
    const progress = figure.querySelector("progress");
    progress.hidden = photo.item?.state !== "sending";
    progress.value = photo.share;
    const mark = photo.isSent ? "sent" : photo.isRefused || photo.isOnlyHere ? "refused" : "waiting";
    for (const node of figure.querySelectorAll("[data-mark]")) node.hidden = node.dataset.mark !== mark;
    figure.querySelector("figcaption").classList.toggle("not-sent", photo.isRefused);
    figure.querySelector("[data-retry]").hidden = !photo.isLate;
    figure.querySelector("[data-words]").textContent = photo.words;
    if (photo.isSent) this.enter(photo);
    this.changed();
  }

  /* The record has the photo: its key goes with the form. On the contact sheet its number leads to its page instead. */
  enter({ figure, item }) {
    const { name } = this.box.dataset;
    if (name && item.answer && !this.has(item.answer.id)) figure.append(hidden(name, item.answer.id));
    if (name || !item.answer) return;
    const link = document.createElement("a");
    link.href = item.answer.page;
    link.textContent = item.answer.label;
    figure.querySelector("[data-words]").replaceChildren(link, item.answer.is_new ? " sent" : " was here before");
    figure.querySelector("[data-remove]")?.remove();
    release([item.id]);
  }

  changed() {
    this.say();
    this.box.dispatchEvent(new CustomEvent("attach:changed", { bubbles: true }));
  }

  say() {
    const sent = this.photos.filter((photo) => photo.isSent).length;
    const parts = [];
    if (this.underway.length) parts.push(`${this.underway.length} kept on this phone`);
    if (sent) parts.push(`${sent} sent`);
    if (this.refused.length) parts.push(`${this.refused.length} not sent`);
    const counted = parts.length ? `${photosWords(this.photos.length)}: ${parts.join(", ")}.` : "";
    const words = [this.away, counted].filter(Boolean).join(" ");
    if (this.status.dataset.said === words) return;
    this.status.dataset.said = words;
    this.status.textContent = words;
    if (!this.box.dataset.name && sent && !this.underway.length) this.status.append(" ", showLink());
  }
}

/** @returns {string} "1 photo", "2 photos" */
export function photosWords(count) {
  return count === 1 ? "1 photo" : `${count} photos`;
}

function hidden(name, value) {
  return Object.assign(document.createElement("input"), { type: "hidden", name, value });
}

function showLink() {
  return Object.assign(document.createElement("a"), { className: "reach", href: location.pathname, textContent: "Show on the contact sheet" });
}

/* The browser shows what it can; a HEIC file mostly keeps the camera mark, and its name stands below. */
function preview(figure, blob, address = blob && URL.createObjectURL(blob)) {
  if (!address) return;
  const image = figure.querySelector("img");
  const done = (shown) => {
    image.hidden = !shown;
    figure.querySelector(".no-picture").hidden = shown;
    if (blob) URL.revokeObjectURL(address);
  };
  image.addEventListener("load", () => done(true), { once: true });
  image.addEventListener("error", () => done(false), { once: true });
  image.src = address;
}

for (const box of document.querySelectorAll("[data-attach]")) attaches.push(new Attach(box));

/* Only what this phone could not keep is lost with the page. */
addEventListener("beforeunload", (event) => {
  if (attaches.some((attach) => attach.underway.some((photo) => photo.isOnlyHere))) event.preventDefault();
});
