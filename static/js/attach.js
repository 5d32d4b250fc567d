/* Photos in a form: each goes up at once, with its state, and the form waits for them. Without this file the form sends
   them itself. The markup is templates/evidence/_attach.html. */

import { PhotoQueue } from "./photo-queue.js";
import { sendPhoto } from "./send-photo.js";

const AWAY = "Not with this session any more; the photo stays under Photos.";
const WORDS = { waiting: "Waiting", sent: "Sent", failed: "Not sent" };

class Attach {
  constructor(box) {
    this.box = box;
    this.form = box.closest("form");
    this.list = box.querySelector("[data-attach-list]");
    this.figure = box.querySelector("template[data-attach-figure]");
    this.status = box.querySelector("[data-attach-status]");
    this.figures = new Map();
    this.away = "";
    this.queue = new PhotoQueue({
      most: Number(box.dataset.most) || Infinity,
      send: (file, tell) => sendPhoto(file, { url: box.dataset.upload, token: this.token, tell }),
      changed: (item) => this.show(item),
    });
    box.classList.add("live");
    for (const input of box.querySelectorAll("input[type=file]")) this.listen(input);
    for (const figure of this.list.querySelectorAll("[data-attached]")) this.makeRemovable(figure);
    for (const label of box.querySelectorAll(".drop")) this.acceptDrops(label);
  }

  get token() {
    return this.form.querySelector("[name=csrfmiddlewaretoken]").value;
  }

  listen(input) {
    input.addEventListener("change", () => {
      this.choose(input.files);
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
      this.choose(event.dataTransfer.files);
    });
  }

  choose(files) {
    this.away = "";
    for (const file of files) this.queue.add(file);
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

  show(item) {
    if (item.state !== "removed") draw(this.figures.get(item) ?? this.begin(item), item);
    if (item.state === "sent") this.keep(item);
    this.say();
    this.box.dispatchEvent(new CustomEvent("attach:changed", { bubbles: true, detail: { queue: this.queue } }));
  }

  begin(item) {
    const figure = this.figure.content.firstElementChild.cloneNode(true);
    this.figures.set(item, figure);
    figure.querySelector("[data-file-name]").textContent = item.file.name;
    for (const heard of figure.querySelectorAll("[data-heard]")) heard.textContent = ` ${item.file.name}`;
    figure.querySelector("[data-retry]").addEventListener("click", () => this.queue.retry(item));
    figure.querySelector("[data-remove]").addEventListener("click", () => {
      this.away = item.state === "sent" ? AWAY : "";
      this.figures.delete(item);
      this.queue.remove(item);
      this.takeAway(figure);
    });
    preview(figure, item.file);
    this.list.append(figure);
    return figure;
  }

  /* The record has the photo: its key goes with the form. On the contact sheet its number leads to its page instead. */
  keep(item) {
    const figure = this.figures.get(item);
    if (this.box.dataset.name) {
      figure.append(hidden(this.box.dataset.name, item.photo.id));
      return;
    }
    const link = document.createElement("a");
    link.href = item.photo.page;
    link.textContent = item.photo.label;
    figure.querySelector("[data-words]").replaceChildren(link, item.photo.is_new ? " sent" : " was here before");
    figure.querySelector("[data-remove]").remove();
  }

  say() {
    const { sent, failed, underway } = this.queue;
    const parts = [];
    if (underway.length) parts.push(`${underway.length} on the way`);
    if (sent.length) parts.push(`${sent.length} sent`);
    if (failed.length) parts.push(`${failed.length} not sent`);
    const counted = parts.length ? `${photos(this.queue.items.length)}: ${parts.join(", ")}.` : "";
    const words = [this.away, counted].filter(Boolean).join(" ");
    if (this.status.dataset.said === words) return;
    this.status.dataset.said = words;
    this.status.textContent = words;
    if (!this.box.dataset.name && sent.length && !underway.length) this.status.append(" ", showLink());
  }
}

function photos(count) {
  return count === 1 ? "1 photo" : `${count} photos`;
}

function hidden(name, value) {
  const input = document.createElement("input");
  Object.assign(input, { type: "hidden", name, value });
  return input;
}

function showLink() {
  const link = document.createElement("a");
  link.className = "reach";
  link.href = location.pathname;
  link.textContent = "Show on the contact sheet";
  return link;
}

/* The browser shows what it can; a HEIC file mostly keeps the camera mark, and its name stands below. */
function preview(figure, file) {
  const image = figure.querySelector("img");
  const address = URL.createObjectURL(file);
  const done = (shown) => {
    image.hidden = !shown;
    figure.querySelector(".no-picture").hidden = shown;
    URL.revokeObjectURL(address);
  };
  image.addEventListener("load", () => done(true), { once: true });
  image.addEventListener("error", () => done(false), { once: true });
  image.src = address;
}

function draw(figure, item) {
  const failed = item.state === "failed";
  const progress = figure.querySelector("progress");
  progress.hidden = item.state === "sent" || failed;
  progress.value = item.share;
  const mark = { sent: "sent", failed: "refused" }[item.state] ?? "waiting";
  for (const node of figure.querySelectorAll("[data-mark]")) node.hidden = node.dataset.mark !== mark;
  figure.querySelector("figcaption").classList.toggle("not-sent", failed);
  figure.querySelector("[data-retry]").hidden = !failed || Boolean(item.final);
  figure.querySelector("[data-words]").textContent = words(item);
}

function words(item) {
  if (item.state === "failed") return item.trouble || WORDS.failed;
  if (item.state === "sending") return item.share < 1 ? `${Math.floor(item.share * 100)} % sent` : "Being checked";
  return WORDS[item.state];
}

/* A form with photos on the way is sent by itself when they are there; about those that failed it asks once. */
class WaitingForm {
  constructor(form, attaches) {
    this.form = form;
    this.attaches = attaches;
    this.submitter = null;
    this.before = [];
    this.without = false;
    form.addEventListener("submit", (event) => this.hold(event));
    form.addEventListener("attach:changed", () => this.look());
    for (const attach of attaches) this.offer(attach);
  }

  offer(attach) {
    attach.box.querySelector("[data-retry-all]").addEventListener("click", () => {
      const submitter = this.asked;
      for (const item of this.failed) for (const one of this.attaches) if (one.queue.items.includes(item)) one.queue.retry(item);
      this.ask(0);
      if (submitter) this.wait(submitter);
    });
    attach.box.querySelector("[data-save-without]").addEventListener("click", () => {
      this.without = true;
      this.form.requestSubmit(this.asked ?? undefined);
    });
  }

  get underway() {
    return this.attaches.flatMap((attach) => attach.queue.underway);
  }

  get failed() {
    return this.attaches.flatMap((attach) => attach.queue.failed);
  }

  hold(event) {
    if (this.underway.length) {
      event.preventDefault();
      this.wait(event.submitter);
    } else if (this.failed.length && !this.without) {
      event.preventDefault();
      this.asked = event.submitter;
      this.ask(this.failed.length);
    }
  }

  wait(submitter) {
    if (!this.submitter && submitter) {
      this.submitter = submitter;
      this.before = [...submitter.childNodes];
      submitter.setAttribute("aria-disabled", "true");
    }
    this.look();
  }

  look() {
    if (!this.failed.length) this.ask(0);
    if (!this.submitter) return;
    const count = this.underway.length;
    if (count) {
      this.submitter.textContent = `Sending ${photos(count)}…`;
      return;
    }
    const submitter = this.submitter;
    this.submitter = null;
    submitter.replaceChildren(...this.before);
    submitter.removeAttribute("aria-disabled");
    this.form.requestSubmit(submitter);
  }

  /* Trying again is offered only where it can help: not for a file that the server refused for what it is. */
  ask(count) {
    const hopeless = this.failed.every((item) => item.final);
    for (const { box } of this.attaches) {
      const trouble = box.querySelector("[data-attach-trouble]");
      trouble.hidden = count === 0 || !box.querySelector("figcaption.not-sent");
      if (trouble.hidden) continue;
      const were = count === 1 ? "1 photo was not sent" : `${count} photos were not sent`;
      const without = `Save without ${count === 1 ? "it" : "them"}`;
      trouble.querySelector("[data-attach-trouble-words]").textContent = `${were}. ${without}${hopeless ? "" : ", or try again"}.`;
      trouble.querySelector("[data-retry-all]").hidden = hopeless;
      trouble.scrollIntoView({ block: "nearest" });
    }
  }
}

function start() {
  const byForm = new Map();
  for (const box of document.querySelectorAll("[data-attach]")) {
    const attach = new Attach(box);
    byForm.set(attach.form, [...(byForm.get(attach.form) ?? []), attach]);
  }
  for (const [form, attaches] of byForm) new WaitingForm(form, attaches);
  addEventListener("beforeunload", (event) => {
    for (const attaches of byForm.values()) if (attaches.some((attach) => attach.queue.underway.length)) event.preventDefault();
  });
}

start();
