// Moments from which the clocks of a test run, and a new test when something was moved.
import { newId } from "./identity.js";
import { all, clockOf, entryOf, heater, keptMark, queue, say, visit, words } from "./bay.js";
import { doubt, mark, show, taking } from "./field.js";

let changed = () => {};

export function watchMoments(whenChanged) {
  changed = whenChanged;
  for (const button of all("[data-event]")) {
    button.addEventListener("click", () => happened(button.dataset.event, button.closest(".step")));
  }
  document.addEventListener("click", undone);
  document.getElementById("new-test")?.addEventListener("click", () => { startTest(); changed(); });
}

async function happened(kind, step) {
  const item = { id: newId(), held: false, slot: "moment" };
  item.entry = entryOf("event", { heater, kind, at: new Date().toISOString() }, null, item.id);
  addMoment(item.entry, "");
  document.dispatchEvent(new CustomEvent("moment", { detail: { kind, step } }));
  await queue.put(item);
  if (["adjusted", "opened"].includes(kind) && hasTestReadings()) startTest();
  navigator.vibrate?.(40);
  changed();
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
  if (entry.value.kind === "flame") visit.dataset.flame = entry.value.at;
}

export function dropMoment(id) {
  for (const each of all(`li[data-entry="${id}"]`)) each.remove();
}

async function undone(event) {
  if (!event.target.matches(".undo-event")) return;
  const corrects = event.target.closest("li").dataset.entry;
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

const leftFields = () => all('.field[data-stage="as left"]');
const hasTestReadings = () => leftFields().some((each) => each.dataset.set && each.dataset.entry);

function startTest() {
  visit.dataset.test = newId(); // no other phone can begin a test of this name
  for (const field of leftFields()) {
    show(field, null);
    field.last = null;
    field.dataset.entry = "";
    field.dataset.taken = "";
    taking.delete(field);
    mark(field, "");
    doubt(field, "");
  }
  say(words.new_test_begun);
}
