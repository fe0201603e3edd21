// Steps of the order of work: one tap says how each ended. It closes no gate.
import { askForPieces, keepAbout } from "./about.js";
import { newId } from "./identity.js";
import { all, copyOf, entryOf, fill, heater, isBounce, queue, remembered, say, visit, visitId, whenUnfolded, words } from "./bay.js";
import { leftHasBegun, noteMoment, takeBackMoment } from "./moments.js";
import { vanAnswers } from "./van.js";

whenUnfolded(".task > details", (fold) => {
  const task = fold.parentElement;
  if (fold.querySelector(".task-why")) return;
  fold.append(copyOf("task-why"));
  const why = fold.querySelector("[data-reason]");
  why.id = `why-${task.dataset.task}`;
  why.value = task.dataset.words;
  why.addEventListener("change", () => noted(task, why.value.trim()));
  fold.querySelector(".task-why label").htmlFor = why.id;
  if (task.matches(".has-states")) fold.querySelector('[data-answer="not needed"]').remove();
  for (const each of all(".task-why [data-answer]", fold)) each.setAttribute("aria-pressed", String(each.dataset.answer === task.dataset.done));
});

const OUTCOMES = ["done", "not needed", "not done"];

let changed = () => {};

export function watchTasks(whenChanged) {
  changed = whenChanged;
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-answer]");
    if (button) answered(button, event.isTrusted);
    const cause = event.target.closest("[data-cause]");
    if (cause?.matches("button")) endedBy(cause);
    const routine = event.target.closest("[data-routine-done], [data-together]");
    if (routine) routineDone(routine.closest(".step"), routine);
    const back = event.target.closest("[data-routine-back]");
    if (back) takeBackRoutine(back);
  });
  // Steps that were unfolded stay so on this phone while the visit lasts.
  for (const each of all("[data-run]")) {
    const key = `steps.${visitId}.${each.dataset.run}`;
    if (remembered.get(key)) each.open = remembered.get(key) === "open";
    each.addEventListener("toggle", () => remembered.set(key, each.open ? "open" : "shut"));
  }
  for (const each of all("[data-routine-back]")) showBack(each);
  for (const each of all("[data-procedure]")) each.addEventListener("change", () => follow(each));
}

async function answered(button, isTap) {
  const task = button.closest("[data-task]");
  const value = button.dataset.answer;
  const isMended = task.dataset.done === "not done" && value !== "not done"; // why it was not is no note of how it was
  const reason = isMended ? "" : (task.querySelector("[data-reason]")?.value ?? task.dataset.words).trim();
  const isPressed = button.getAttribute("aria-pressed") === "true";
  if (value === "not done" && !reason && !isPressed) { task.querySelector("[data-reason]").focus(); return; }
  if (isTap && isBounce(button)) return; // a photograph that was refused takes its answer back at once
  // The same tap again takes it back.
  if (isPressed) { await takeBackShut(task); await keepStep(task, null, ""); navigator.vibrate?.(30); return; }
  const isState = button.dataset.state !== undefined || button.dataset.failed !== undefined;
  const step = stepOf(task, isState ? "done" : value);
  if (isState) step.state = value;
  if (reason) step.reason = reason;
  if (task.dataset.renews) task.dataset.cause = "";
  await keepStep(task, step, value === "not done" ? `${button.dataset.word}: ${reason}` : button.dataset.word);
  if (task.dataset.shuts !== undefined && step.outcome === "done" && !leftHasBegun()) {
    remembered.set(nameOfShut(task), JSON.stringify(await noteShut(task.closest(".step"))));
  }
  navigator.vibrate?.(30);
}

// A note to a step: it goes with the answer, or is written beside the one that stands, which stays as it was.
async function noted(task, reason) {
  task.dataset.words = reason;
  const pressed = all("[data-answer]", task).find((each) => each.getAttribute("aria-pressed") === "true");
  if (!task.dataset.done || !pressed || (task.dataset.done === "not done" && !reason)) return;
  const step = { ...stepOf(task, task.dataset.done), reason };
  if (pressed.dataset.state !== undefined || pressed.dataset.failed !== undefined) step.state = pressed.dataset.answer;
  if (task.dataset.grouped) step.note = "grouped";
  if (task.dataset.exchange) step.exchange = JSON.parse(task.dataset.exchange);
  await put(task, step, task.dataset.done === "not done" ? `${pressed.dataset.word}: ${reason}` : pressed.dataset.word);
}

// What ended a part that had failed: its move says so as well.
async function endedBy(button) {
  const task = button.closest("[data-task]");
  task.dataset.cause = task.dataset.cause === button.dataset.cause ? "" : button.dataset.cause;
  const failed = task.querySelector("[data-failed]");
  await keepStep(task, { ...stepOf(task, "done"), state: failed.dataset.answer }, failed.dataset.word);
}

// What closes the cover says that all is shut again; taken back, so are the moments that it noted.
const nameOfShut = (task) => `shut.${visitId}.${task.dataset.task}`;
async function takeBackShut(task) {
  for (const each of JSON.parse(remembered.get(nameOfShut(task)) ?? "[]")) await takeBackMoment(each);
  remembered.drop(nameOfShut(task));
}

const stepOf = (task, outcome) => ({ heater, step: task.dataset.task, outcome, at: new Date().toISOString() });

// One tap for the steps without an answer of their own, of a section and of all before it; all of them where there
// is none. What carries safety, asks a reading or a photograph, or is timed is none of them: it has no data-routine. Nor is what waits.
export async function routineDone(section, button) {
  const sections = all(".step");
  const upTo = section ? sections.slice(0, sections.indexOf(section) + 1) : sections;
  const open = upTo.flatMap((each) => all("[data-routine]", each)).filter((each) => !each.dataset.done && !each.querySelector(".held:not([hidden])"));
  const isShut = button?.dataset.routineDone === "shut";
  const moments = isShut && open.some((each) => each.dataset.opens !== undefined) && !leftHasBegun() ? await noteShut(section) : [];
  for (const task of open) {
    const step = { ...stepOf(task, "done"), note: "grouped" };
    const good = task.querySelector("[data-answer][data-state]");
    if (good) step.state = good.dataset.answer;
    await keepStep(task, step, (good ?? task.querySelector('[data-answer="done"]')).dataset.word);
  }
  const yearly = open.some((each) => each.dataset.renews) ? document.querySelector("[data-yearly]").dataset.yearly : "";
  if (yearly) await saidOfWork(yearly, true);
  const back = section?.querySelector("[data-routine-back]");
  if (back && open.length) {
    remembered.set(nameOfBack(back), JSON.stringify({ steps: open.map((each) => each.dataset.task), moments, yearly }));
    showBack(back);
  }
  navigator.vibrate?.(30);
}

// The last question of the hand-over is answered by the button that ends the visit, where nobody answered it before.
export async function answeredByEnding(button) {
  const task = document.getElementById(`task-${button.closest("[data-asks]")?.dataset.asks}`);
  if (task && !task.dataset.done) await keepStep(task, { ...stepOf(task, "done"), state: button.dataset.state }, button.textContent);
}

// The line of the work done that says the same as these steps.
async function saidOfWork(line, isDone) {
  const box = all("[data-work]").find((each) => each.value === line);
  if (!box || box.checked === isDone) return;
  box.checked = isDone;
  askForPieces();
  await keepAbout();
}

// One tap takes a grouped answer back as well: what nobody has answered by itself since, and the moments noted with it.
const nameOfBack = (back) => `grouped.${visitId}.${back.closest(".step").dataset.step}`;
const showBack = (back) => { back.hidden = !remembered.get(nameOfBack(back)); };

async function takeBackRoutine(back) {
  const { steps, moments, yearly } = JSON.parse(remembered.get(nameOfBack(back)));
  remembered.drop(nameOfBack(back));
  showBack(back);
  if (yearly) await saidOfWork(yearly, false);
  for (const each of moments) await takeBackMoment(each);
  for (const each of steps) {
    const task = document.getElementById(`task-${each}`);
    if (task?.dataset.grouped) await keepStep(task, null, "");
  }
}

// All that was opened is shut: that it was opened is noted too, where nobody did.
async function noteShut(section) {
  const kinds = all(".moments li", section).map((each) => each.dataset.kind);
  if (kinds.at(-1) === "closed up") return [];
  const noted = kinds.includes("opened") ? [] : [await noteMoment("opened", section)];
  return [...noted, await noteMoment("closed up", section)];
}

export async function keepStep(task, step, word) {
  const said = step;
  if (task.dataset.renews) {
    await takeBackExchange(task);
    if (step?.outcome === "done" && task.dataset.exchanged === undefined) said.exchange = await renew(task, Boolean(step.state));
  }
  await put(task, said, word);
}

async function put(task, said, word) {
  const item = { id: newId(), held: false, slot: `task-${task.dataset.task}` };
  task.dataset.exchange = said?.exchange ? JSON.stringify(said.exchange) : "";
  item.entry = entryOf("step", said, task.dataset.entry || null, item.id);
  item.word = word;
  showTask(task, item, "phone");
  await queue.put(item);
  changed();
}

// A part that is renewed: the old one is thrown away by plan, kept as a spare, or had failed; a new one is fitted. Its
// answer names both, so that they can be taken back from any page that shows it. Of a failed one that nobody knew of,
// what is known is that it was there.
async function renew(task, hasFailed) {
  const { renews: kind, fitted, fate, why, cause } = task.dataset;
  const at = new Date().toISOString();
  const part = newId();
  const items = [{ entry: { ...entryOf("part", { kind, heater }, null, part), subject: part } }];
  const old = fitted || (hasFailed ? await found(kind) : "");
  if (old && !fitted) items.push({ entry: entryOf("move", { heater, part: old, kind: "found in place", at }, null) });
  const ended = hasFailed ? { kind: "failed", at, ...(cause ? { cause } : {}) } : { kind: fate, at, ...(fate === "scrapped" ? { why } : {}) };
  if (old) items.push({ entry: entryOf("move", { heater, part: old, ...ended }, null) });
  const from = task.dataset.bin ? { bin: task.dataset.bin } : {};
  items.push({ entry: entryOf("move", { heater, part, kind: "fitted", at, ...from }, null) });
  for (const { entry } of items) await queue.put({ id: entry.id, held: false, slot: "part", entry });
  return items.map(({ entry }) => entry.id);
}

async function found(kind) {
  const id = newId();
  await queue.put({ id, held: false, slot: "part", entry: { ...entryOf("part", { kind, heater }, null, id), subject: id } });
  return id;
}

async function takeBackExchange(task) {
  const [part, ...moves] = JSON.parse(task.dataset.exchange || "[]");
  for (const each of moves) await takeBack(entryOf("move", null, each));
  if (part) await takeBack({ ...entryOf("part", null, part), subject: part });
}
const takeBack = (entry) => queue.put({ id: entry.id, held: false, slot: "part", entry });

// What waits on this phone comes back into its step.
export function restoreTask(item, where) {
  const task = document.getElementById(item.slot);
  if (!task) return;
  if (task.dataset.renews) task.dataset.exchange = JSON.stringify(item.entry.value?.exchange ?? []);
  showTask(task, item, where);
}

function showTask(task, item, where) {
  const step = item.entry.value;
  task.dataset.entry = item.id;
  task.dataset.done = step?.outcome ?? "";
  task.dataset.grouped = step?.note === "grouped" ? "yes" : "";
  const word = step ? item.word ?? step.state ?? step.outcome : "";
  const written = task.querySelector("[data-reason]");
  if (step) task.dataset.words = step.reason ?? "";
  if (step && written) written.value = task.dataset.words;
  const note = task.querySelector(".step-note");
  note.textContent = step?.reason ?? "";
  note.hidden = !step?.reason || step.outcome === "not done";
  task.querySelector(".said").textContent = task.dataset.grouped ? words.task_grouped : word;
  for (const each of all(`.held[data-by="${task.dataset.task}"]`)) each.hidden = each.dataset.state !== step?.state;
  const causes = task.querySelector(".ended-by");
  if (causes) causes.hidden = !step?.state;
  for (const each of all("[data-cause]", task)) each.setAttribute("aria-pressed", String(each.dataset.cause === task.dataset.cause));
  const kept = task.querySelector(".kept");
  kept.dataset.kept = where;
  const says = step && (step.state || step.outcome);
  for (const each of all("[data-answer]", task)) each.setAttribute("aria-pressed", String(each.dataset.answer === says));
  tellTasks();
}

// A step whose readings all stand needs no tap; of one whose readings stand in part, it says how many do.
const placesOf = (list) => list?.split(",").filter(Boolean) ?? [];

function readOf(task) {
  const atFirst = placesOf(task.dataset.read);
  return placesOf(task.dataset.reads).filter((each) => {
    const [key, stage] = each.split("|");
    const wanted = `.field[data-key="${key}"][data-stage="${stage}"]`;
    const own = all(wanted, task.closest(".step")); // each set of the gas has a section, and a step, of its own
    const fields = own.length ? own : all(wanted);
    return fields.length ? fields.some((field) => field.last) : atFirst.includes(each);
  }).length;
}

export function tellTasks() {
  const open = [];
  const ending = document.querySelector("[data-asks]");
  for (const list of all("[data-tasks]")) {
    let ended = 0;
    for (const task of all("[data-task]", list)) {
      const answered = OUTCOMES.includes(task.dataset.done) && task.dataset.disputed === undefined;
      const asked = placesOf(task.dataset.reads).length;
      const read = asked ? readOf(task) : 0;
      if (!task.dataset.done && asked) task.querySelector(".said").textContent = read ? fill(words.task_read, { number: read, all: asked }) : "";
      if (answered || (asked && read === asked)) ended += 1;
      else if (task.dataset.routine === undefined && !read && task.dataset.task !== ending?.dataset.asks) open.push(task);
    }
    const line = list.querySelector("[data-ended]");
    line.textContent = line.textContent.replace(/\d+/, ended);
  }
  tellOpen(open);
  if (!ending) return;
  ending.hidden = Boolean(document.getElementById(`task-${ending.dataset.asks}`).dataset.done);
  document.querySelector("#close-form > [data-complete]").hidden = !ending.hidden;
}

// What no other answer takes is named before the visit is closed, each with the way to it.
function tellOpen(open) {
  const box = document.getElementById("still-open");
  box.hidden = !open.length;
  box.querySelector("summary").textContent = (open.length === 1 ? box.dataset.one : box.dataset.many).replace(/\d+/, open.length);
  box.querySelector("ul").replaceChildren(...open.map((task) => {
    const link = Object.assign(document.createElement("a"), { href: `#${task.id}`, className: "plainly", textContent: task.querySelector(".title").textContent });
    const row = document.createElement("li");
    row.append(link);
    return row;
  }));
}

// Another procedure has other steps: the card opens anew once the van knows.
async function follow(choice) {
  const id = newId();
  const list = choice.closest("[data-chosen]");
  const step = { heater, step: "procedure", outcome: "done", state: choice.value, at: new Date().toISOString() };
  await queue.put({ id, held: false, slot: "procedure", entry: entryOf("step", step, list.dataset.chosen || null, id) });
  list.dataset.chosen = id;
  await queue.flush();
  if (await vanAnswers()) location.reload();
  else say(visit.dataset.away ?? "");
}
