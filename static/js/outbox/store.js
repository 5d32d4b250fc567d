/* What is kept on this phone, in IndexedDB: the text of every item, the bytes of files, and facts, each in a store of its
   own, so that a photo that finds no room costs nobody his words. What could not be written lies in memory and is shown
   and sent all the same. Everything written is on the disk before the promise resolves. */

import { told } from "./changes.js";

const NAME = "buildlog-kept";
const STORES = { items: "id", bytes: "id", facts: "name" };

export const NOT_KEPT = "Not kept on this phone: do not close this page.";
export const NO_ROOM =
  "This phone is full, so the photo is only in this page: do not close it until the photo is sent. Delete something from the phone to make room.";
export const FULL =
  "This phone is full and even words do not fit: do not close this page. Delete something from the phone, then try again.";

let opened = null;

/** @returns {Promise<Store>} the one store of this page; where storage is refused it works in memory, `persistent` false. */
export function openStore() {
  opened ??= connect().then((db) => new Store(db));
  return opened;
}

/* Null where the browser gives no storage (private windows, blocked by the person). */
function connect() {
  return new Promise((resolve) => {
    try {
      const request = indexedDB.open(NAME, 1);
      request.onupgradeneeded = () => {
        for (const [name, keyPath] of Object.entries(STORES)) request.result.createObjectStore(name, { keyPath });
      };
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => resolve(null);
    } catch {
      resolve(null);
    }
  });
}

class Store {
  constructor(db) {
    this.persistent = Boolean(db);
    this.full = false;
    this.memory = { items: new Map(), bytes: new Map(), facts: new Map() };
    this.use(db);
  }

  use(db) {
    this.db = db;
    if (!db) return;
    db.onversionchange = () => db.close();
    // A browser may close the connection by itself (memory, a sleeping phone): it is opened again at the next use.
    db.onclose = () => {
      this.db = null;
    };
  }

  /* Runs `work` with the stores named; resolves with what it returned once all is on the disk, rejects if it is not. */
  async transact(names, mode, work) {
    if (!this.db && this.persistent) this.use(await connect());
    if (!this.db) throw new Error(NOT_KEPT);
    return new Promise((resolve, reject) => {
      const transaction = this.db.transaction(names, mode, { durability: "strict" });
      transaction.oncomplete = () => resolve(result());
      transaction.onabort = () => reject(transaction.error ?? new Error(NOT_KEPT));
      let result = () => undefined;
      try {
        result = work(...names.map((name) => transaction.objectStore(name))) ?? result;
      } catch (trouble) {
        transaction.abort();
        reject(trouble);
      }
    });
  }

  /**
   * Keeps a new item and gives it its `order`.
   * @param {object} item see outbox.js.
   * @param {Blob} [blob] the file that belongs to it.
   * @returns {Promise<boolean>} whether all of it is on the disk; otherwise it is in this page's memory, `trouble` says so.
   */
  async keep(item, blob) {
    this.askToStay();
    if (blob) {
      this.memory.bytes.set(item.id, blob);
      Object.assign(item, { trouble: this.persistent ? NO_ROOM : NOT_KEPT, file: { ...item.file, kept: false } });
    }
    // Words first and by themselves: a file that finds no room takes the room of the words that come with it.
    if (await this.put(item)) return !blob || this.putBytes(item, blob);
    this.full = this.persistent;
    Object.assign(item, { in_memory: true, trouble: this.persistent ? FULL : NOT_KEPT });
    item.order ||= Math.max(0, ...(await this.all()).map((one) => one.order)) + 1;
    this.memory.items.set(item.id, item);
    return false;
  }

  /* The order is given inside the transaction, so that two pages never give the same. */
  async put(item) {
    const order = item.order;
    try {
      await this.transact(["items", "facts"], "readwrite", (items, facts) => {
        facts.get("order").onsuccess = ({ target }) => {
          if (!order) {
            item.order = (target.result?.value ?? 0) + 1;
            facts.put({ name: "order", value: item.order, at: Date.now() });
          }
          items.put(item);
        };
      });
      return true;
    } catch {
      item.order = order;
      return false;
    }
  }

  /* Writes the file of an item, and that it is there, both or neither. */
  async putBytes(item, blob) {
    if (!(await hasRoom(blob.size))) return false;
    let kept = null;
    try {
      await this.transact(["items", "bytes"], "readwrite", (items, bytes) => {
        items.get(item.id).onsuccess = ({ target }) => {
          const now = target.result ?? item;
          kept = { trouble: isAboutRoom(now.trouble) ? "" : now.trouble, file: { ...now.file, kept: true } };
          items.put({ ...now, ...kept });
          bytes.put({ id: item.id, blob });
        };
      });
    } catch {
      return false;
    }
    Object.assign(item, kept);
    this.memory.bytes.delete(item.id);
    return true;
  }

  /**
   * Changes an item: `facts` are put over it, or are a function that gets the item and returns them, or null for no change.
   * What cannot be written is changed in this page's memory.
   * @returns {Promise<object|null>} the item as it is now; null when there is none or nothing was changed.
   */
  async change(id, facts) {
    let changed = null;
    const made = (item) => {
      const wanted = item && (typeof facts === "function" ? facts(item) : facts);
      changed = wanted ? { ...item, ...wanted, id } : null;
      return changed;
    };
    try {
      await this.transact(["items"], "readwrite", (items) => {
        items.get(id).onsuccess = ({ target }) => {
          const item = made(this.memory.items.get(id) ?? target.result);
          if (item) items.put(without(item, "in_memory"));
        };
      });
      if (changed) this.memory.items.delete(id);
      return changed && without(changed, "in_memory");
    } catch {
      if (!changed) made(this.memory.items.get(id) ?? (await this.get(id)));
      if (changed) this.memory.items.set(id, changed);
      return changed;
    }
  }

  /**
   * Marks an item as sent, and only when that is written lets its bytes go. Where it cannot be written the whole item goes:
   * the server has it.
   */
  async sent(id, facts) {
    this.memory.bytes.delete(id);
    const changed = await this.change(id, facts);
    if (this.memory.items.has(id) && this.persistent) await this.drop(id);
    else await this.dropBytes(id);
    await this.rescue();
    return changed;
  }

  /** @returns {Promise<object|null>} */
  async get(id) {
    return this.memory.items.get(id) ?? (await this.read("items", (items) => items.get(id))) ?? null;
  }

  /** @returns {Promise<object[]>} every item, in order. */
  async all() {
    const found = new Map(((await this.read("items", (items) => items.getAll())) ?? []).map((item) => [item.id, item]));
    for (const [id, item] of this.memory.items) found.set(id, item);
    return [...found.values()].sort((one, other) => one.order - other.order);
  }

  /** @returns {Promise<Blob|null>} the file of an item; null when it is not here. */
  async bytes(id) {
    return this.memory.bytes.get(id) ?? (await this.read("bytes", (bytes) => bytes.get(id)))?.blob ?? null;
  }

  /** Whether the file of an item lies in this very page's memory, where no other page can send it. */
  holds(id) {
    return this.memory.bytes.has(id) || (this.memory.items.has(id) && !this.persistent);
  }

  /** Lets an item and its bytes go for good. */
  async drop(id) {
    this.memory.items.delete(id);
    this.memory.bytes.delete(id);
    await this.write(["items", "bytes"], (items, bytes) => {
      items.delete(id);
      bytes.delete(id);
    });
  }

  async dropBytes(id) {
    await this.write(["bytes"], (bytes) => void bytes.delete(id));
  }

  /** Room may have come free: what lies in memory only is written now. */
  async rescue() {
    if (!this.persistent) return;
    await this.rescueWords();
    for (const [id, blob] of [...this.memory.bytes]) {
      const item = await this.get(id);
      if (item && !this.memory.items.has(id) && (await this.putBytes(item, blob))) told({ why: "changed", id });
    }
  }

  /**
   * The same for words alone. A file that found no room may lie on the disk for a while after it was refused, and take the
   * room of every word (Chromium): so words are tried again and again, files only when something went.
   */
  async rescueWords() {
    if (!this.persistent) return;
    for (const [id, item] of [...this.memory.items]) {
      // While an earlier one was written this one may have been changed or sent: what is newer is never written over.
      if (this.memory.items.get(id) !== item) continue;
      const trouble = item.trouble !== FULL ? item.trouble : item.file ? NO_ROOM : "";
      if (!(await this.put({ ...without(item, "in_memory"), trouble }))) continue;
      if (this.memory.items.get(id) === item) this.memory.items.delete(id);
      told({ why: "changed", id });
    }
    this.full = this.memory.items.size > 0;
  }

  /** Remembers a fact under a name. */
  async remember(name, value) {
    this.memory.facts.set(name, value);
    await this.write(["facts"], (facts) => void facts.put({ name, value, at: Date.now() }));
  }

  /** @returns {Promise<any>} what was remembered; undefined when nothing was. */
  async recall(name) {
    const found = await this.read("facts", (facts) => facts.get(name));
    return found ? found.value : this.memory.facts.get(name);
  }

  /**
   * Looks at a fact and replaces it in one step that no other page can come between.
   * @param {(value: any) => any} decide gets what is remembered, returns what is to be, or undefined to leave it.
   * @returns {Promise<boolean>} whether it was replaced.
   */
  async swap(name, decide) {
    let swapped = false;
    try {
      await this.transact(["facts"], "readwrite", (facts) => {
        facts.get(name).onsuccess = ({ target }) => {
          const value = decide(target.result?.value);
          swapped = value !== undefined;
          if (swapped) facts.put({ name, value, at: Date.now() });
        };
      });
    } catch {
      const value = decide(this.memory.facts.get(name));
      swapped = value !== undefined;
      if (swapped) this.memory.facts.set(name, value);
    }
    return swapped;
  }

  async read(name, ask) {
    try {
      return await this.transact([name], "readonly", (store) => {
        const request = ask(store);
        return () => request.result;
      });
    } catch {
      return undefined;
    }
  }

  async write(names, work) {
    try {
      await this.transact(names, "readwrite", work);
    } catch {
      // What could not be written stays as it was; the page's memory has the newer form.
    }
  }

  /* The browser is asked once not to clear this site when it runs short of room. */
  async askToStay() {
    if (!navigator.storage?.persist) return;
    const first = await this.swap("asked-to-stay", (asked) => (asked ? undefined : true));
    if (first) await this.remember("may-stay", await navigator.storage.persist().catch(() => false));
  }
}

/* What the browser says of its room; it is asked so that a file which cannot fit does not take the last of it. */
async function hasRoom(size) {
  const { quota = Infinity, usage = 0 } = (await navigator.storage?.estimate?.().catch(() => null)) ?? {};
  return quota - usage > size;
}

function isAboutRoom(trouble) {
  return trouble === NO_ROOM || trouble === NOT_KEPT || trouble === FULL;
}

function without(object, name) {
  const { [name]: _, ...rest } = object;
  return rest;
}
