// What was entered lies on this phone until the van says that it has it.
import { openDB } from "./vendor/idb-8.0.4/index.js";

const RETRY_MS = [1000, 2000, 5000, 10000, 30000];
const MOST_AT_ONCE = 100;

export class Queue extends EventTarget {
  #db;
  #sending = null;
  #failures = 0;
  #timer = 0;
  #memory = new Map(); // where the browser refuses its database, the page itself holds on

  async open() {
    try {
      this.#db = await openDB("lightoff", 1, {
        upgrade(db) {
          db.createObjectStore("outbox", { keyPath: "id" });
        },
      });
      navigator.storage?.persist?.();
    } catch {
      this.#db = null;
    }
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

  async of(subject) {
    return (await this.all()).filter((each) => each.entry.subject === subject);
  }

  flush() {
    this.#sending ??= this.#send().finally(() => {
      this.#sending = null;
    });
    return this.#sending;
  }

  async #send() {
    clearTimeout(this.#timer);
    for (;;) {
      const items = (await this.all()).filter((each) => !each.held && !each.refused).slice(0, MOST_AT_ONCE);
      if (!items.length) return;
      try {
        for (const item of items) await this.#sendPhoto(item);
        const answer = await post("/entries", items.map((each) => each.entry));
        const outcomes = new Map(answer.entries.map((each) => [each.id, each]));
        for (const item of items) await this.#settle(item, outcomes.get(item.id));
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

  async #sendPhoto(item) {
    if (!item.photo || item.entry.value.sha256) return;
    const response = await fetch("/photos", { method: "POST", body: item.photo, headers: { accept: "application/json" } });
    if (!response.ok) {
      item.refused = (await response.json().catch(() => ({}))).problem ?? "";
      if (this.#db) await this.#db.put("outbox", item);
      this.#tell(item, "refused", item.refused);
      throw new Error("photo");
    }
    const kept = await response.json();
    item.entry.value = { ...item.entry.value, ...kept };
    if (this.#db) await this.#db.put("outbox", item);
  }

  async #settle(item, outcome) {
    if (!outcome) return;
    if (outcome.outcome === "refused") {
      item.refused = outcome.sentence;
      if (this.#db) await this.#db.put("outbox", item);
      this.#tell(item, "refused", outcome.sentence);
      return;
    }
    await this.remove(item.id);
    this.#tell(item, "van");
  }

  #tell(item, where, sentence = "") {
    this.dispatchEvent(new CustomEvent("kept", { detail: { item, where, sentence } }));
  }
}

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
