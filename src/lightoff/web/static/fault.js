// Find the fault: one step at a time. An answer lies on this phone at once, and the next step comes when the van has it.
import { all, entryOf, heater, queue, say, visit, visitId, words } from "./bay.js";
import { bodyOf, doubt, drafts, isNumber, keep, mark, show, typedIn, watchFields } from "./field.js";
import { newId } from "./identity.js";
import { keepThisPage } from "./van.js";

const ARRIVED = "lightoff.answered";
const step = document.getElementById("step");
const action = document.getElementById("do");
const tally = document.querySelector(".tally");
let byArrow = false; // arrows walk through the states: they choose, and do not go on by themselves
let going = false; // an answer was given: as soon as nothing waits here any more, the next step is asked for

const fieldOf = (item) => (item.slot?.startsWith("f-") ? document.getElementById(item.slot) : null);
const waiting = async () => (await queue.of(visitId)).filter((each) => !each.refused && !each.photo);

async function goOn() {
  going = true;
  for (const field of [...drafts.keys()]) await keep(field, true);
  await queue.flush();
  await leaveIfSent();
}

async function leaveIfSent() {
  if (!going) return;
  if ((await waiting()).length) { say(words.away); mark(tally, "phone"); return; }
  if (all(".field .doubt").some((each) => each.dataset.typing && each.textContent)) { going = false; return; }
  try { sessionStorage.setItem(ARRIVED, "yes"); } catch { /* refused: the focus begins at the top */ }
  location.replace(visit.dataset.here);
}

// ---- the two actions at the foot ------------------------------------------------------------------
const same = document.getElementById("same"); // only where something is to be read again
const stood = new Map(all(".field", step).map((field) => [field, JSON.stringify(bodyOf(field, ""))]));
const isAnother = ([field, before]) => before !== JSON.stringify(bodyOf(field, ""));
const answered = () => (same ? [...stood].some(isAnother) : filled());
const filled = () => all(".field.number", step).some(typedIn) || step.querySelector(".states input:checked");
function label() {
  if (!action) return;
  action.dataset.asked ??= action.querySelector(".next-label").textContent;
  action.querySelector(".next-label").textContent = answered() ? action.dataset.goOn : action.dataset.asked;
}

action?.addEventListener("click", () => {
  if (answered() || drafts.size) { goOn(); return; }
  const first = step.querySelector(".value input, .choices input");
  step.scrollIntoView({ block: "start" });
  first?.focus({ preventScroll: isNumberless(first) });
});
const isNumberless = (input) => input.type === "radio";

document.getElementById("cannot")?.addEventListener("click", async ({ currentTarget: { dataset } }) => {
  const bare = { heater, stage: "as found", taken_at: new Date().toISOString() };
  const said = dataset.tried ? { state: visit.dataset.notDone } : { note: visit.dataset.notDone };
  for (const key of dataset.keys.split(" ")) await queue.put(itemOf({ ...bare, key, ...said }, "cannot"));
  await goOn();
});

// Read again, and it reads the same: the reading stands, and says that it was asked about.
same?.addEventListener("click", async () => {
  for (const field of all(".field", step)) {
    if (!field.dataset.entry) continue;
    const item = itemOf({ ...bodyOf(field, new Date().toISOString()), confirmed: true }, field.id, field.dataset.entry);
    await queue.put(item);
  }
  await goOn();
});

// The last answer: one that still waits here is dropped, one that the van has is withdrawn.
document.getElementById("take-back")?.addEventListener("click", async ({ currentTarget: { dataset } }) => {
  const here = (await waiting()).at(-1);
  if (here) {
    await queue.remove(here.id);
    const field = fieldOf(here);
    if (field) { drafts.delete(field); show(field, null); mark(field, ""); field.last = null; }
    going = false;
    if (!(await waiting()).length) { mark(tally, "van"); say(""); }
    return;
  }
  await queue.put(itemOf(null, "take-back", dataset.entry));
  await goOn();
});

function itemOf(value, slot, corrects = null) {
  const item = { id: newId(), held: false, slot };
  item.entry = entryOf("reading", value, corrects, item.id);
  return item;
}

// ---- where each answer is -------------------------------------------------------------------------
watchFields(label);
step.addEventListener("input", label);
document.addEventListener("keydown", ({ key }) => { byArrow = key.startsWith("Arrow"); }, true);
document.addEventListener("pointerdown", () => { byArrow = false; }, true);
queue.addEventListener("kept", ({ detail: { item, where, sentence } }) => {
  const field = fieldOf(item);
  if (where === "refused") {
    going = false;
    if (field) { field.refused = item; doubt(field, sentence, { ofTyping: true }); } else say(sentence);
  }
  if (field) mark(field, where === "refused" ? "phone" : where);
  if (where === "phone") mark(tally, "phone");
  // A state is one tap: once the van has it, the next step comes by itself. A number waits for "Go on".
  if (where === "van" && field && !isNumber(field) && !byArrow) going = true;
  if (where === "van") leaveIfSent();
});
queue.addEventListener("away", ({ detail }) => { say(detail.sentence || words.away); mark(tally, "phone"); });
queue.addEventListener("here", () => { say(""); leaveIfSent(); });

// What an earlier page left on this phone comes back into its field.
for (const item of await queue.of(visitId)) {
  const field = fieldOf(item);
  mark(tally, "phone");
  if (item.held) await queue.put({ ...item, held: false });
  if (!field) continue;
  show(field, item.entry.value);
  field.last = item.entry.value;
  field.dataset.entry = item.id;
  mark(field, "phone");
}
addEventListener("pagehide", () => { for (const field of [...drafts.keys()]) keep(field, true); });
document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !event.target.matches(".value input, .choices input")) return;
  event.preventDefault();
  if (event.target.type === "radio") { if (event.target.checked) goOn(); return; }
  const inputs = all(".value input", step);
  const next = inputs[inputs.indexOf(event.target) + 1];
  if (next) next.focus(); else action?.focus();
});
try {
  if (sessionStorage.getItem(ARRIVED)) document.getElementById("step-title").focus({ preventScroll: true });
  sessionStorage.removeItem(ARRIVED);
} catch { /* refused */ }
queue.flush();
keepThisPage({ anew: true });
label();
visit.dataset.ready = "yes";
