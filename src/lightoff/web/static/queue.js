// What was entered lies on this phone until the van says that it has it.
import { openDB } from "./vendor/idb-8.0.4/index.js";

const RETRY_MS = [1000, 2000, 5000, 10000, 30000];
const MOST_AT_ONCE = 100;
const PHOTO_MS = 8000;
const SENT_MS = 3 * 86400e3;

export class Queue extends EventTarget {
  #db;
  #readings = {};
  #pictures = {};
  #failures = 0;
  #timer = 0;
  #tabs = new BroadcastChannel("lightoff"); // another page of this phone may have sent what stands in this one
  #memory = new Map(); // where the browser refuses its database, the page itself holds on

  async open() {
    try {
      this.#db = await openDB("lightoff", 2, {
        upgrade(db, old) {
          if (old < 1) db.createObjectStore("outbox", { keyPath: "id" });
          db.createObjectStore("sent", { keyPath: "id" });
        },
        blocking: () => this.#db?.close(), // a newer page needs the database
        terminated: () => { this.#db = null; },
      });
      await this.#forget();
      navigator.storage?.persist?.();
    } catch {
      this.#db = null;
    }
    this.#tabs.addEventListener("message", ({ data }) => this.dispatchEvent(new CustomEvent("kept", { detail: data })));
    addEventListener("online", () => this.flush());
    document.addEventListener("visibilitychange", () => this.flush());
    return this;
  }

  // An item is { id, entry, held, photo? }; a held one is still being typed and is not sent.
  async put(item) {
    if (this.#db) await this.#db.put("outbox", item);
    else this.#memory.set(item.id, item);
    this.#tell(item, "phone");
    if (!item.held) this.flush();
  }

  async remove(id) {
    if (this.#db) await this.#db.delete("outbox", id);
    else this.#memory.delete(id);
  }

  async all() {
    const items = this.#db ? await this.#db.getAll("outbox") : [...this.#memory.values()];
    return items.sort((a, b) => (a.id < b.id ? -1 : 1));
  }

  // What arrived on the van since a moment: a copy of a page that was kept before does not show it.
  async sentSince(subject, moment) {
    const items = this.#db ? await this.#db.getAll("sent") : [];
    return items.filter((each) => each.entry.subject === subject && each.sentAt >= moment);
  }

  async #forget() {
    const old = new Date(Date.now() - SENT_MS).toISOString();
    for (const each of await this.#db.getAll("sent")) if (each.sentAt < old) await this.#db.delete("sent", each.id);
  }

  async one(id) {
    return this.#db ? this.#db.get("outbox", id) : this.#memory.get(id);
  }

  async of(subject) {
    return (await this.all()).filter((each) => each.entry.subject === subject);
  }

  // Settles when all that can be sent was sent. Pictures go beside the readings: a large one over a thin line
  // holds nothing up, and those who wait for it wait PHOTO_MS at most.
  async flush() {
    const readings = this.#run(this.#readings, isReady, (items) => this.#sendEntries(items));
    const pictures = this.#run(this.#pictures, isBarePhoto, ([item]) => this.#sendPhoto(item));
    await readings;
    await Promise.race([pictures, new Promise((done) => { setTimeout(done, PHOTO_MS); })]);
  }

  // One at a time on each line; what was put there meanwhile goes with the next round.
  #run(line, isMine, sent) {
    line.again = true;
    line.running ??= (async () => {
      while (line.again) {
        line.again = false;
        await this.#send(isMine, sent);
      }
      line.running = null;
    })();
    return line.running ?? Promise.resolve();
  }

  async #send(isMine, sent) {
    clearTimeout(this.#timer);
    for (;;) {
      try {
        const items = (await this.all()).filter((each) => !each.held && !each.refused && isMine(each)).slice(0, MOST_AT_ONCE);
        if (!items.length) return;
        await sent(items);
        this.#failures = 0;
      } catch (fault) {
        this.#failures += 1;
        this.dispatchEvent(new CustomEvent("away", { detail: { sentence: fault.sentence ?? "" } }));
        const wait = RETRY_MS[Math.min(this.#failures, RETRY_MS.length) - 1];
        this.#timer = setTimeout(() => this.flush(), wait);
        return;
      }
      this.dispatchEvent(new CustomEvent("here"));
    }
  }

  async #sendEntries(items) {
    const answer = await post("/entries", items.map((each) => each.entry));
    const outcomes = new Map(answer.entries.map((each) => [each.id, each]));
    for (const item of items) await this.#settle(item, outcomes.get(item.id));
  }

  async #sendPhoto(item) {
    const address = item.entry.value.cut_short ? "/photos?cut_short=yes" : "/photos";
    const response = await fetch(address, { method: "POST", body: item.photo, headers: { accept: "application/json" } });
    if (response.status >= 500) throw new Error(`${response.status}`);
    if (response.ok) item.entry.value = { ...item.entry.value, ...(await response.json()) };
    else {
      item.refused = (await response.json().catch(() => ({}))).problem || `${response.status}`;
      item.isNoPicture = response.status === 422; // looked at, and none: there is nothing to keep of it
      item.isCutShort = response.status === 409; // a part is missing: kept where one says so
    }
    if (this.#db) await this.#db.put("outbox", item);
    if (item.refused) this.#tell(item, "refused", item.refused);
    else this.flush(); // now its entry can follow
  }

  async #settle(item, outcome) {
    if (!outcome) throw new Error("no answer for an entry");
    if (outcome.outcome === "refused") {
      item.refused = outcome.sentence;
      if (this.#db) await this.#db.put("outbox", item);
      this.#tell(item, "refused", outcome.sentence);
      return;
    }
    const { photo, ...bare } = item;
    if (this.#db) await this.#db.put("sent", { ...bare, sentAt: new Date().toISOString() });
    await this.remove(item.id);
    this.#tell(item, "van");
    this.#tabs.postMessage({ item: bare, where: "van", sentence: "" });
  }

  #tell(item, where, sentence = "") {
    this.dispatchEvent(new CustomEvent("kept", { detail: { item, where, sentence } }));
  }
}

const isBarePhoto = ({ photo, entry }) => Boolean(photo) && !entry.value?.sha256; // its bytes are still to be sent
const isReady = (item) => !isBarePhoto(item);

export async function post(address, body, signal) {
  const response = await fetch(address, {
    method: "POST",
    body: JSON.stringify(body),
    headers: { "content-type": "application/json", accept: "application/json" },
    signal,
  });
  if (!response.ok) {
    const fault = new Error(`${response.status}`);
    fault.sentence = (await response.json().catch(() => ({}))).problem;
    throw fault;
  }
  return response.json();
}
