/* The page that sends many photos from a laptop. Without this file its form sends a few at a time. */

import { chosen, dropped, sortOut } from "./bulk/files.js";
import { BulkRun } from "./bulk/run.js";
import { fileWords, leftWords, sizeWords } from "./bulk/words.js";
import { openStore } from "./outbox/store.js";

const SAVE_EVERY = 1500;
const DRAW_EVERY = 100;
const MOST_REMEMBERED = 20_000;
const MOST_LISTED = 200;

class BulkPage {
  constructor(box, store, memory) {
    this.box = box;
    this.store = store;
    this.fact = `bulk:${box.dataset.project}`;
    this.endings = new Set(box.dataset.endings.split(" "));
    this.passed = [];
    this.said = 0;
    this.place = box.querySelector("select");
    this.run = new BulkRun({
      sendTo: box.dataset.send,
      askAt: box.dataset.known,
      token: box.querySelector("[name=csrfmiddlewaretoken]").value,
      place: () => this.place.value,
      most: Number(box.dataset.most),
      mostClip: Number(box.dataset.mostClip),
      remembered: new Map(Object.entries(memory?.done ?? {})),
      changed: () => this.changed(),
    });
    this.showLeft(memory);
    this.listen();
  }

  one(name) {
    return this.box.querySelector(`[data-${name}]`);
  }

  listen() {
    for (const part of this.box.querySelectorAll("[data-with-script]")) part.hidden = false;
    this.one("without-script").hidden = true;
    this.box.querySelector("form").classList.add("live");
    for (const name of ["folder", "files"]) {
      const input = this.one(name);
      input.addEventListener("change", () => {
        const found = chosen(input.files);
        input.value = "";
        this.add(found);
      });
    }
    this.box.querySelector("form").addEventListener("submit", (event) => event.preventDefault());
    this.acceptDrops(this.one("drop"));
    this.one("pause").addEventListener("click", () => (this.run.paused ? this.run.goOn() : this.run.pause()));
    this.one("retry").addEventListener("click", () => this.run.retry());
    this.one("forget").addEventListener("click", () => {
      this.one("left").hidden = true;
      this.store.remember(this.fact, { done: Object.fromEntries(this.run.remembered), finished: true });
    });
    addEventListener("beforeunload", (event) => this.run.running && event.preventDefault());
    addEventListener("pagehide", () => this.save());
  }

  acceptDrops(zone) {
    const over = (is) => (event) => {
      event.preventDefault();
      zone.classList.toggle("over", is);
    };
    zone.addEventListener("dragover", over(true));
    zone.addEventListener("dragleave", over(false));
    // A file dropped beside the zone would replace this page.
    for (const name of ["dragover", "drop"]) addEventListener(name, (event) => event.preventDefault());
    zone.addEventListener("drop", async (event) => {
      over(false)(event);
      const { found, unread } = await dropped(event.dataTransfer);
      this.passed.push(...unread);
      this.add(found);
    });
  }

  add(found) {
    const { wanted, passed } = sortOut(found, this.endings);
    this.passed.push(...passed.filter((path) => !this.passed.includes(path)));
    this.finished = false;
    this.one("left").hidden = true;
    const added = this.run.add(wanted);
    this.one("note").textContent = added ? "" : "Nothing new among these: no photo, or on its way already.";
    this.say(added ? `Sending ${fileWords(added)}.` : this.one("note").textContent);
    this.one("way").hidden = false;
    this.changed();
  }

  /* ---- what the page says ---- */

  showLeft(memory) {
    if (!memory || memory.finished || !memory.files) return;
    this.one("left").hidden = false;
    this.one("left-words").textContent =
      `${memory.count} of ${fileWords(memory.files)} were done. Choose the same folder again: it goes on where it stopped.`;
    if (memory.place) this.place.value = memory.place;
  }

  changed() {
    this.drawing ??= setTimeout(() => {
      this.drawing = null;
      this.draw();
    }, DRAW_EVERY);
    this.saving ??= setTimeout(() => {
      this.saving = null;
      this.save();
    }, SAVE_EVERY);
  }

  draw() {
    const { run } = this;
    const tally = run.tally;
    const over = run.finished && !run.working;
    this.one("bar").value = tally.bytes ? tally.done / tally.bytes : Number(over);
    this.one("title").textContent = over ? "Done" : run.paused ? "Paused" : "Sending";
    this.one("figures").textContent =
      `${tally.finished} of ${fileWords(tally.files)}, ${sizeWords(tally.done)} of ${sizeWords(tally.bytes)}`;
    this.one("left-time").textContent = over || run.paused ? "" : leftWords(tally.left);
    this.one("detail").textContent = [
      tally.kept && `${tally.kept} kept`,
      tally.before && `${tally.before} ${tally.before === 1 ? "was" : "were"} in the record before`,
      tally.refused && `${tally.refused} not kept`,
    ]
      .filter(Boolean)
      .join(", ");
    this.place.disabled = !over && tally.files > 0;
    this.one("pause").hidden = over;
    this.one("pause-words").textContent = run.paused ? "Go on" : "Pause";
    this.one("pause").querySelector("use").setAttribute("href", run.paused ? "#a-play" : "#a-pause");
    this.one("trouble").hidden = !run.trouble;
    this.one("trouble-words").textContent = run.trouble;
    const kept = tally.kept + tally.before > 0;
    this.one("to-tray").hidden = !(over && kept && !this.place.value);
    this.one("to-photos").hidden = !(over && kept);
    this.drawRefused();
    this.drawPassed();
    this.tellMilestones(tally, over);
  }

  drawRefused() {
    const { refused } = this.run;
    this.one("refused").hidden = !refused.length;
    this.one("refused-count").textContent = fileWords(refused.length);
    this.one("retry").hidden = !refused.some((item) => !item.final);
    const list = this.one("refused-list");
    if (list.childElementCount === Math.min(refused.length, MOST_LISTED)) return;
    list.replaceChildren(...refused.slice(0, MOST_LISTED).map((item) => line(item.path, item.reason)));
  }

  drawPassed() {
    this.one("passed").hidden = !this.passed.length;
    this.one("passed-count").textContent = `${fileWords(this.passed.length)} passed over: hidden, or not photos`;
    const list = this.one("passed-list");
    if (list.childElementCount === Math.min(this.passed.length, MOST_LISTED)) return;
    list.replaceChildren(...this.passed.slice(0, MOST_LISTED).map((path) => line(path)));
  }

  /* Read out at every quarter only: progress told without end is noise. */
  tellMilestones(tally, over) {
    if (over !== this.finished) {
      this.finished = over;
      if (over && tally.files) this.say(`Done. ${this.one("detail").textContent}.`);
      this.save();
    }
    const quarter = Math.floor((4 * tally.finished) / Math.max(1, tally.files));
    if (!over && quarter > this.said) this.say(`${tally.finished} of ${fileWords(tally.files)} done.`);
    this.said = quarter;
  }

  say(words) {
    this.one("status").textContent = words;
  }

  /* A page in which nothing was chosen has nothing to say about how far the last one came. */
  save() {
    const { files, finished } = this.run.tally;
    if (!files) return undefined;
    const done = Object.fromEntries([...this.run.remembered].slice(-MOST_REMEMBERED));
    return this.store
      .remember(this.fact, { done, files, count: finished, place: this.place.value, finished: this.finished })
      .catch(() => undefined);
  }
}

function line(name, reason = "") {
  const row = document.createElement("li");
  const path = document.createElement("b");
  path.textContent = name;
  row.append(path);
  if (reason) {
    const why = document.createElement("span");
    why.textContent = reason;
    row.append(why);
  }
  return row;
}

const store = await openStore();
const box = document.querySelector("[data-bulk]");
if (box) new BulkPage(box, store, await store.recall(`bulk:${box.dataset.project}`));
