/* Photos on their way, one at a time in the order chosen. Knows nothing of the page: `changed(item)` hears every step. */

const MB = 1024 * 1024;

export class PhotoQueue {
  /* `send(file, tell)` gives { sent, stop }, as sendPhoto does; `most` is the largest file in bytes. */
  constructor({ send, most = Infinity, changed = () => {} }) {
    this.send = send;
    this.most = most;
    this.changed = changed;
    this.items = [];
    this.current = null;
  }

  add(file) {
    const item = { file, state: "waiting", share: 0, trouble: "", photo: null };
    this.items.push(item);
    if (file.size > this.most) this.set(item, { state: "failed", final: true, trouble: tooLarge(file.size, this.most) });
    else this.set(item, {});
    this.next();
    return item;
  }

  retry(item) {
    if (item.state !== "failed" || item.final) return;
    this.set(item, { state: "waiting", share: 0, trouble: "" });
    this.next();
  }

  /* Takes a photo out of the queue; what the record keeps already stays kept. */
  remove(item) {
    this.items = this.items.filter((one) => one !== item);
    const stop = item.stop;
    this.set(item, { state: "removed", stop: null });
    stop?.();
  }

  get underway() {
    return this.items.filter((item) => item.state === "waiting" || item.state === "sending");
  }

  get failed() {
    return this.items.filter((item) => item.state === "failed");
  }

  get sent() {
    return this.items.filter((item) => item.state === "sent");
  }

  set(item, facts) {
    Object.assign(item, facts);
    this.changed(item);
  }

  async next() {
    if (this.current) return;
    const item = this.items.find((one) => one.state === "waiting");
    if (!item) return;
    this.current = item;
    const { sent, stop } = this.send(item.file, (share) => {
      if (item.state === "sending") this.set(item, { share });
    });
    this.set(item, { state: "sending", stop });
    try {
      this.finish(item, { state: "sent", share: 1, photo: await sent });
    } catch (trouble) {
      this.finish(item, { state: "failed", trouble: trouble.message, final: Boolean(trouble.final) });
    }
    this.current = null;
    this.next();
  }

  finish(item, facts) {
    if (item.state !== "removed") this.set(item, { ...facts, stop: null });
  }
}

function tooLarge(size, most) {
  return `The file has ${(size / MB).toFixed(1)} MB; at most ${Math.round(most / MB)} MB are taken.`;
}
