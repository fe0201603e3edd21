// What the parts of the card share: the visit, its words, the queue, small hands.
import { newId } from "./identity.js";
import { Queue } from "./queue.js";

export const visit = document.getElementById("visit");
export const words = JSON.parse(document.getElementById("words").textContent);
export const { visit: visitId, heater, author } = visit.dataset;
export const HOLD_MS = 1500; // a field rests this long before it is sent; it lies on the phone at once
export const queue = await new Queue().open();

export const all = (selector, root = document) => [...root.querySelectorAll(selector)];
export const fill = (template, values) => template.replace(/\{(\w+)\}/g, (_, name) => values[name] ?? "");
export const clockOf = (iso) => new Date(iso).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
export const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

// A glove taps twice: so soon after the first tap the second is no answer of its own. Common practice, no source.
const BOUNCE_MS = 300;
const tappedAt = new WeakMap();
export const isSoonAfter = (at) => Date.now() >= at && Date.now() - at < BOUNCE_MS;
export function isBounce(target) {
  if (isSoonAfter(tappedAt.get(target) ?? -Infinity)) return true;
  tappedAt.set(target, Date.now());
  return false;
}

export const remembered = {
  get: (key) => { try { return localStorage.getItem(`lightoff.${key}`); } catch { return null; } },
  set: (key, value) => { try { localStorage.setItem(`lightoff.${key}`, value); } catch { /* full or refused */ } },
  drop: (key) => { try { localStorage.removeItem(`lightoff.${key}`); } catch { /* refused */ } },
};

export function entryOf(field, value, corrects, id = newId()) {
  return { id, subject: visitId, field, value, author, at: new Date().toISOString(), corrects: corrects || null };
}

// A sentence above the card: something is wrong, and nothing is lost. What was just refused comes into sight, wherever
// the hand is on the card, till it touches something else.
export function say(sentence, { inSight = false } = {}) {
  const line = document.getElementById("trouble");
  line.textContent = sentence;
  line.hidden = !sentence;
  line.classList.toggle("in-sight", inSight);
  if (inSight) document.addEventListener("pointerdown", () => line.classList.remove("in-sight"), { once: true });
}

// A copy of what the page has once.
export const copyOf = (id) => document.getElementById(id).content.cloneNode(true);

// A mark of where a thing is kept is empty till it says so.
const fillMark = (kept) => { if (!kept.firstElementChild) kept.append(copyOf("kept-mark")); };
new MutationObserver((changes) => {
  for (const { target } of changes) if (target.matches(".kept") && target.dataset.kept) fillMark(target);
}).observe(document.body, { subtree: true, attributes: true, attributeFilter: ["data-kept"] });

// Such a mark, to be put beside a new row.
export function keptMark() {
  const kept = document.querySelector(".about-kept .kept").cloneNode(true);
  fillMark(kept);
  return kept;
}

// What a fold holds, put there as it is opened: a card has a hundred alike.
export function whenUnfolded(selector, fill) {
  document.addEventListener("toggle", ({ target }) => {
    if (target.open && target.matches(selector)) fill(target);
  }, true);
}
