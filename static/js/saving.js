/* Saving a form with photos. With signal the form goes to the server as without script, once its photos are there or are
   left to follow; without signal all of it is kept on this phone and sent later. */

import { attachesOf, photosWords, release } from "./attach.js";
import { keepEvent, tryAgain } from "./outbox/outbox.js";
import { flush, look } from "./outbox/sender.js";
import { tellNext, tellNow } from "./telling.js";

const PATIENCE = 2_500;
const HOLD = 20_000;
const KEPT = "Kept on this phone. It is sent as soon as there is signal.";
const SIGNED_OUT = "Kept on this phone. Sign in to send it.";

const { project, person, captured: url, kept } = document.body.dataset;

/** Takes over the saving of one form. */
export class Saving {
  /**
   * @param {HTMLFormElement} form
   * @param {object} given
   * @param {string} given.session id or key of the session that the photos follow
   * @param {() => object|null} given.item what to keep of the form itself; null when its photos are all there is
   * @param {() => void} given.keptHere called when the form was kept on this phone
   */
  constructor(form, { session, item, keptHere }) {
    Object.assign(this, { form, session, item, keptHere, busy: false, ready: false, passed: false, without: false });
    this.attaches = attachesOf(form);
    form.addEventListener("submit", (event) => this.submit(event));
    form.addEventListener("attach:changed", () => this.photosChanged());
    for (const { box } of this.attaches) this.offer(box);
  }

  offer(box) {
    box.querySelector("[data-retry-all]").addEventListener("click", () => this.retry());
    box.querySelector("[data-save-without]").addEventListener("click", () => {
      this.without = true;
      this.begin(this.submitter);
    });
  }

  async retry() {
    for (const attach of this.attaches) {
      for (const photo of attach.photos.filter((one) => one.isLate)) {
        await tryAgain(photo.item.id);
        await attach.look(photo);
      }
    }
    this.ask("");
    this.begin(this.submitter);
  }

  photos(which) {
    return this.attaches.flatMap((attach) => attach.photos).filter((photo) => photo[which]);
  }

  submit(event) {
    if (this.passed) return;
    event.preventDefault();
    this.begin(event.submitter);
  }

  async begin(submitter) {
    if (this.busy) return;
    this.busy = true;
    this.ready = false;
    this.submitter = submitter;
    this.say("Saving…");
    const { outcome } = await look(url, PATIENCE);
    if (outcome === "unreachable" || outcome === "signed-out") await this.keepHere(outcome);
    else {
      flush();
      this.ready = true;
      this.settle();
    }
  }

  photosChanged() {
    if (!this.photos("isRefused").length && !this.photos("isLate").length) this.ask("");
    if (this.busy && this.ready && !this.passed) this.settle();
  }

  /* With signal: photos on their way are waited for; about others it is asked once. */
  settle() {
    const [underway, late, refused] = ["isUnderway", "isLate", "isRefused"].map((which) => this.photos(which).length);
    if (underway > late) this.say(`Sending ${photosWords(underway)}…`);
    else if ((late || refused) && !this.without) this.stop(question(late, refused), { again: late, skip: late ? "Save now" : "Save without" });
    else if (this.photos("isOnlyHere").length) this.stop("A photo is only in this page, because this phone is full. Save when it is sent.", { again: true });
    else this.pass();
  }

  stop(words, offered = {}) {
    this.busy = false;
    this.say("");
    this.ask(words, offered);
  }

  /* Kept first, then handed to the browser: whatever happens to the request, the words are on this phone. */
  async pass() {
    this.passed = true;
    const item = this.item();
    if (item?.kind === "session") await keepEvent({ ...item, project, person, url, holdUntil: Date.now() + HOLD });
    await this.letPhotosFollow();
    this.say("");
    this.form.requestSubmit(this.submitter ?? undefined);
    // A page that comes back out of the browser's memory can be saved again.
    addEventListener("pageshow", (event) => event.persisted && this.reset());
  }

  reset() {
    this.busy = this.passed = false;
  }

  letPhotosFollow() {
    const ids = this.attaches.flatMap((attach) => attach.photos).flatMap((photo) => photo.item?.id ?? []);
    return release(ids, { session: this.session });
  }

  async keepHere(outcome) {
    const item = this.item();
    const keptItem = item && (await keepEvent({ ...item, project, person, url }));
    if (keptItem?.in_memory || this.photos("isOnlyHere").length) return this.stop(keptItem?.trouble || this.photos("isOnlyHere")[0].words);
    const words = outcome === "signed-out" ? SIGNED_OUT : KEPT;
    await this.letPhotosFollow();
    this.keptHere();
    // Without a worker there is no page to go to; this one has to stay open until there is signal.
    if (!navigator.serviceWorker?.controller) {
      this.say("Kept on this phone");
      // Sent at last: its page is the better one to look at.
      document.addEventListener("outbox:sent", ({ detail }) => detail.item.id === item?.id && location.assign(detail.answer.page));
      return tellNow(`${words} Leave this page open until then.`);
    }
    tellNext(words);
    location.assign(kept);
  }

  say(words) {
    const button = this.submitter ?? this.form.querySelector("[data-saves]");
    if (!button) return;
    this.before ??= [...button.childNodes];
    button.replaceChildren(...(words ? [words] : this.before));
    if (words) button.setAttribute("aria-disabled", "true");
    else button.removeAttribute("aria-disabled");
  }

  ask(words, { again = false, skip = "" } = {}) {
    for (const { box } of this.attaches) {
      const trouble = box.querySelector("[data-attach-trouble]");
      trouble.hidden = !words;
      if (!words) continue;
      trouble.querySelector("[data-attach-trouble-words]").textContent = words;
      trouble.querySelector("[data-retry-all]").hidden = !again;
      const without = trouble.querySelector("[data-save-without]");
      without.hidden = !skip;
      without.textContent = skip;
      trouble.scrollIntoView({ block: "nearest" });
    }
  }
}

function question(late, refused) {
  if (late) return late === 1 ? "1 photo is not sent yet. Save now and it follows by itself." : `${late} photos are not sent yet. Save now and they follow by themselves.`;
  return refused === 1 ? "1 photo was not sent. Save without it." : `${refused} photos were not sent. Save without them.`;
}
