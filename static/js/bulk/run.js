/* Many files on their way to the record: read one at a time, asked about a hundred at a time, sent two at a time, each by
   itself. Knows nothing of the page: `changed()` hears every step. What is done is remembered, so that the same folder
   chosen again goes on where it stopped. Nothing but file handles and digests is held for all of them. */

import { digestOf } from "../outbox/digest.js";
import { ask } from "../outbox/request.js";
import { nameOf } from "./files.js";

const MB = 1024 * 1024;
const BATCH = 100;
const EARLY = 10;
const AHEAD = 150;
const AT_ONCE = 2;
const LONGEST_WAIT = 60_000;

const NO_ANSWER = "No connection to the server. It goes on by itself when there is one.";
const SIGNED_OUT = "You are signed out. Sign in in another tab, then go on here.";
const MAY_NOT = "Whoever is signed in here may not send photos to this project.";
const UNREADABLE = "It cannot be read any more. Choose it again.";
const CHANGED = "It changed while it was being sent. Choose it again.";

const sleep = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

export class BulkRun {
  /* `remembered` maps names of files done before to their digests; `place()` is the key of the assembly chosen, or "". */
  constructor({ sendTo, askAt, token, place, most, mostClip, remembered, changed }) {
    Object.assign(this, { sendTo, askAt, token, place, most, mostClip, remembered, changed });
    this.items = [];
    this.byName = new Map();
    this.byDigest = new Map();
    this.paused = false;
    this.trouble = "";
    this.working = null;
    this.active = 0;
    this.since = 0;
  }

  /** @returns {number} how many of these are new to this run. */
  add(found) {
    let added = 0;
    for (const one of found) {
      const name = nameOf(one);
      if (this.byName.has(name)) continue;
      const item = { ...one, name, state: "unread", share: 0, tries: 0, reason: "", digest: this.remembered.get(name) ?? "" };
      this.byName.set(name, item);
      this.items.push(item);
      this.refuseTooLarge(item);
      added += 1;
    }
    this.begin();
    return added;
  }

  refuseTooLarge(item) {
    const clip = /^(video|audio)\//.test(item.file.type);
    const most = clip ? this.mostClip : Math.max(this.most, item.file.type ? 0 : this.mostClip);
    if (item.file.size > most) {
      this.refuse(item, `It has ${(item.file.size / MB).toFixed(1)} MB; at most ${Math.round(most / MB)} MB are taken.`, true);
    } else if (!item.file.size) this.refuse(item, "The file is empty (0 bytes).", true);
  }

  pause(trouble = "") {
    if (!this.paused && this.since) this.active += Date.now() - this.since;
    this.since = 0;
    this.paused = true;
    this.trouble = trouble;
    this.changed();
  }

  goOn() {
    this.paused = false;
    this.trouble = "";
    for (const item of this.items) item.tries = 0;
    this.begin();
    this.changed();
  }

  /* Those refused for what they are stay refused; the others are tried again. */
  retry() {
    for (const item of this.refused) if (!item.final) Object.assign(item, { state: "unread", reason: "", tries: 0, share: 0, digest: "" });
    this.goOn();
  }

  begin() {
    if (this.paused || this.working || this.finished) return;
    this.since = Date.now();
    this.working = Promise.all([this.readAll(), ...Array.from({ length: AT_ONCE }, () => this.sendAll())]).finally(() => {
      this.working = null;
      if (this.since) this.active += Date.now() - this.since;
      this.since = 0;
      // What was added or allowed to go on while the last one was finishing.
      if (!this.paused && !this.finished) this.begin();
      this.changed();
    });
  }

  of(...states) {
    return this.items.filter((item) => states.includes(item.state));
  }

  get refused() {
    return this.of("refused");
  }

  get running() {
    return Boolean(this.working) && !this.paused;
  }

  get finished() {
    return this.items.every((item) => ["kept", "before", "refused"].includes(item.state));
  }

  /** Counts and bytes as they stand, and the milliseconds that are left if it goes on as it went (null: not known yet). */
  get tally() {
    const counts = { kept: 0, before: 0, refused: 0 };
    let bytes = 0;
    let done = 0;
    for (const item of this.items) {
      bytes += item.file.size;
      if (item.state in counts) {
        counts[item.state] += 1;
        done += item.file.size;
      } else done += item.share * item.file.size;
    }
    const finished = counts.kept + counts.before + counts.refused;
    const took = this.active + (this.since ? Date.now() - this.since : 0);
    const left = took > 4000 && finished > 2 && done ? (took / done) * (bytes - done) : null;
    return { ...counts, files: this.items.length, finished, bytes, done, left };
  }

  /* ---- reading ---- */

  async readAll() {
    let batch = [];
    for (let item = this.next("unread"); item && !this.paused; item = this.next("unread")) {
      item.state = "reading";
      if (await this.read(item)) batch.push(item);
      const idle = !this.next("waiting") && !this.next("sending");
      if (batch.length >= BATCH || (idle && batch.length >= EARLY)) batch = await this.settle(batch);
      while (this.of("waiting").length > AHEAD && !this.paused) await sleep(200);
    }
    await this.settle(batch);
  }

  next(state) {
    return this.items.find((item) => item.state === state);
  }

  /* Whether the file still has to be asked about; the same bytes twice in one folder are sent once. */
  async read(item) {
    try {
      item.digest ||= await digestOf(item.file);
    } catch {
      this.refuse(item, UNREADABLE);
      return false;
    }
    const first = this.byDigest.get(item.digest);
    if (first && first !== item && first.state !== "refused") {
      item.state = "twin";
      if (["kept", "before"].includes(first.state)) this.finish(item, "before");
      return false;
    }
    this.byDigest.set(item.digest, item);
    item.state = "asking";
    this.changed();
    return true;
  }

  /* Asks which of these the record has; the others wait to be sent. Paused on the way, they are asked about again. */
  async settle(batch) {
    if (!batch.length) return [];
    const body = () => new URLSearchParams([["assembly", this.place()], ...batch.map((item) => ["digest", item.digest])]);
    const answer = await this.insist(this.askAt, body, batch[0]);
    const known = answer?.body?.photos;
    if (answer && !known) this.pause(answer.body?.error ?? NO_ANSWER);
    for (const item of batch) {
      const photo = known?.[item.digest];
      if (!known) item.state = "unread";
      else if (photo) this.finish(item, "before", photo);
      else item.state = "waiting";
    }
    this.changed();
    return [];
  }

  /* ---- sending ---- */

  async sendAll() {
    const more = () => this.of("unread", "reading", "asking", "waiting").length > 0;
    while (!this.paused && more()) {
      const item = this.next("waiting");
      if (item) await this.send(item);
      else await sleep(50);
    }
  }

  async send(item) {
    item.state = "sending";
    const body = () => {
      const form = new FormData();
      form.set("photo", item.file, item.file.name);
      form.set("file_time", String(item.file.lastModified));
      if (this.place()) form.set("assembly", this.place());
      return form;
    };
    const answer = await this.insist(this.sendTo, body, item, (share) => {
      item.share = share;
      this.changed();
    });
    if (!answer) item.state = "waiting";
    else if (answer.status === 413 || answer.status === 422) this.refuse(item, answer.body?.error ?? CHANGED, true);
    else if (await this.isTheSame(item, answer.body)) this.finish(item, answer.body.is_new ? "kept" : "before", answer.body);
    else this.refuse(item, CHANGED);
    item.share = 0;
    this.changed();
  }

  /* The record repeats the digest of what it keeps. Another one means that the file was changed since it was read. */
  async isTheSame(item, kept) {
    if (kept.digest === item.digest) return true;
    item.digest = await digestOf(item.file).catch(() => "");
    return kept.digest === item.digest;
  }

  /* Posts until there is an answer that means something; null when it was paused on the way. */
  async insist(url, body, item, tell) {
    let renewed = false;
    for (item.tries = 0; !this.paused; item.tries += 1) {
      const answer = await ask(url, { token: this.token, body: body(), tell });
      if (answer.body && [200, 201, 413, 422].includes(answer.status) && (answer.body.digest || answer.body.photos || answer.body.error)) {
        this.trouble = "";
        return answer;
      }
      if (answer.status === 401) this.pause(SIGNED_OUT);
      else if (answer.status === 403 && !renewed && (await this.renew())) renewed = true;
      else if (answer.status === 403 || answer.status === 404) this.pause(answer.body?.error ?? MAY_NOT);
      else await this.wait(item);
    }
    return null;
  }

  async wait(item) {
    this.trouble = NO_ANSWER;
    this.changed();
    const until = Date.now() + Math.min(LONGEST_WAIT, 2000 * 2 ** item.tries);
    while (Date.now() < until && !this.paused) await sleep(200);
  }

  /* A page that was open while somebody signed in again has a token that is of no use any more. */
  async renew() {
    try {
      const response = await fetch(this.askAt, { headers: { Accept: "application/json" }, redirect: "manual", cache: "no-store" });
      const { csrf } = await response.json();
      if (csrf) this.token = csrf;
      return Boolean(csrf);
    } catch {
      return false;
    }
  }

  /* ---- what became of it ---- */

  finish(item, state, photo = {}) {
    Object.assign(item, { state, label: photo.label ?? "", withdrawn: Boolean(photo.withdrawn) });
    this.remembered.set(item.name, item.digest);
    for (const twin of this.twins(item)) this.finish(twin, "before", photo);
  }

  refuse(item, reason, final = false) {
    Object.assign(item, { state: "refused", reason, final });
    for (const twin of this.twins(item)) Object.assign(twin, { state: "refused", reason, final });
  }

  twins(item) {
    return item.digest ? this.items.filter((one) => one.state === "twin" && one.digest === item.digest) : [];
  }
}
