// Moments from which the clocks of a test run, and a new test when something was moved.
import { newId } from "./identity.js";
import { all, clockOf, entryOf, heater, isBounce, keptMark, queue, say, visit, words } from "./bay.js";
import { doubt, mark, nothingBeside, show, taking } from "./field.js";

const BEGINS_A_TEST = ["adjusted", "opened"];
let changed = () => {};

export function watchMoments(whenChanged) {
  changed = whenChanged;
  for (const button of all("[data-event]")) {
    button.addEventListener("click", () => { if (!isBounce(button)) happened(button.dataset.event, button.closest(".step")); });
  }
  document.addEventListener("click", undone);
  document.getElementById("new-test")?.addEventListener("click", () => { startTest(); say(words.new_test_begun); changed(); });
}

export const noteMoment = (kind, step) => happened(kind, step);
export const leftHasBegun = () => leftFields().some((each) => each.last);

async function happened(kind, step) {
  const item = { id: newId(), held: false, slot: "moment" };
  item.entry = entryOf("event", { heater, kind, at: new Date().toISOString() }, null, item.id);
  addMoment(item.entry, "");
  document.dispatchEvent(new CustomEvent("moment", { detail: { kind, step } }));
  await queue.put(item);
  if (BEGINS_A_TEST.includes(kind)) startTest(item.id);
  navigator.vibrate?.(40);
  changed();
  return item.id;
}

export function addMoment(entry, where) {
  for (const list of all("[data-moments]")) {
    if (!list.dataset.moments.split("|").includes(entry.value.kind)) continue;
    if (list.querySelector(`[data-entry="${entry.id}"]`)) continue;
    const item = document.createElement("li");
    item.dataset.entry = entry.id;
    item.dataset.kind = entry.value.kind;
    item.dataset.at = entry.value.at;
    const text = document.createElement("span");
    const time = document.createElement("b");
    time.textContent = clockOf(entry.value.at);
    text.append(time, ` ${words.events[entry.value.kind]}`);
    const kept = keptMark();
    kept.dataset.kept = where;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "plainly undo-event";
    button.textContent = words.undo;
    item.append(text, kept, button);
    list.append(item);
  }
}

export function dropMoment(id) {
  for (const each of all(`li[data-entry="${id}"]`)) each.remove();
}

async function undone(event) {
  if (event.target.matches(".undo-event")) await takeBackMoment(event.target.closest("li").dataset.entry);
}

export async function takeBackMoment(corrects) {
  const item = { id: newId(), held: false, slot: "moment" };
  item.entry = entryOf("event", null, corrects, item.id);
  await queue.put(item); // kept first, shown after
  dropMoment(corrects);
  changed();
}

// ---- a new test -------------------------------------------------------------------------------
const begunOnAPhone = (test) => test.length === 36; // a time-ordered id; what else there is came by file

// A reading that waits on this phone may be of a test that the van has not heard of: one goes on with that.
export function goOnWithTest(test) {
  const now = visit.dataset.test;
  if (test && begunOnAPhone(test) && (!begunOnAPhone(now) || test > now)) visit.dataset.test = test;
}

// So does a moment that waits on this phone, or that was sent since the copy of this page was kept.
export function goOnAfter({ id, value }) {
  const now = visit.dataset.test;
  if (BEGINS_A_TEST.includes(value.kind) && (!begunOnAPhone(now) || id > now)) startTest(id);
}

const leftFields = () => all('.field[data-stage="as left"]');

// No other phone can begin a test of this name: it is new, or that of the moment which began it.
function startTest(name = newId()) {
  const isFirst = !leftFields().some((each) => each.dataset.entry);
  visit.dataset.test = name;
  for (const field of leftFields()) {
    show(field, null);
    field.last = null;
    field.dataset.entry = "";
    field.dataset.taken = "";
    taking.delete(field);
    nothingBeside(field);
    mark(field, "");
    doubt(field, "");
  }
  if (!isFirst) say(words.new_test_begun);
}
