// Steps of the order of work: one tap says how each ended. It closes no gate.
import { newId } from "./identity.js";
import { all, entryOf, heater, queue, remembered, say, visit, visitId } from "./bay.js";
import { vanAnswers } from "./van.js";

const OUTCOMES = ["done", "not needed", "not done"];

export function watchTasks() {
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-answer]");
    if (button) answered(button);
    const routine = event.target.closest("[data-routine-done]");
    if (routine) routineDone(routine);
  });
  // A list of steps that was opened stays open on this phone while the visit lasts.
  for (const each of all("[data-tasks]")) {
    const key = `steps.${visitId}.${each.dataset.tasks}`;
    if (remembered.get(key)) each.open = remembered.get(key) === "open";
    each.addEventListener("toggle", () => remembered.set(key, each.open ? "open" : "shut"));
  }
  for (const each of all("[data-procedure]")) each.addEventListener("change", () => follow(each));
}

async function answered(button) {
  const task = button.closest("[data-task]");
  const value = button.dataset.answer;
  const reason = value === "not done" ? task.querySelector("[data-reason]").value.trim() : "";
  if (value === "not done" && !reason) { task.querySelector("[data-reason]").focus(); return; }
  // The same tap again takes it back.
  if (button.getAttribute("aria-pressed") === "true") return keepStep(task, null, "");
  const isState = button.dataset.state !== undefined;
  const step = { heater, step: task.dataset.task, outcome: isState ? "done" : value, at: new Date().toISOString() };
  if (isState) step.state = value;
  if (reason) step.reason = reason;
  await keepStep(task, step, reason ? `${button.dataset.word}: ${reason}` : button.dataset.word);
}

async function routineDone(button) {
  const open = all("[data-routine]", button.closest("[data-tasks]")).filter((each) => !each.dataset.done);
  for (const task of open) {
    const step = { heater, step: task.dataset.task, outcome: "done", at: new Date().toISOString(), note: "grouped" };
    await keepStep(task, step, button.dataset.word);
  }
}

async function keepStep(task, step, word) {
  const item = { id: newId(), held: false, slot: `task-${task.dataset.task}` };
  item.entry = entryOf("step", step, task.dataset.done ? task.dataset.entry : null, item.id);
  item.word = word;
  await queue.put(item); // kept first, shown after
  if (task.dataset.renews) await renew(task, step?.outcome === "done");
  showTask(task, item, "phone");
  navigator.vibrate?.(30);
}

// A part that is renewed each year: the old one is thrown away by plan, a new one is fitted; both can be taken back.
const renewed = new Map();
async function renew(task, isDone) {
  for (const item of renewed.get(task) ?? []) {
    const id = newId();
    await queue.put({ id, held: false, slot: "part", entry: { ...entryOf(item.entry.field, null, item.id, id), subject: item.entry.subject } });
  }
  renewed.delete(task);
  if (!isDone) return;
  const { renews: kind, fitted, why } = task.dataset;
  const at = new Date().toISOString();
  const part = newId();
  const said = [["part", { kind, heater }, part]];
  if (fitted) said.push(["move", { heater, part: fitted, kind: "scrapped", at, why }]);
  said.push(["move", { heater, part, kind: "fitted", at }]);
  renewed.set(task, said.map(([field, value, subject]) => {
    const id = newId();
    return { id, held: false, slot: "part", entry: { ...entryOf(field, value, null, id), ...(subject && { subject }) } };
  }));
  for (const item of renewed.get(task)) await queue.put(item);
}

// What waits on this phone comes back into its step.
export function restoreTask(item, where) {
  const task = document.getElementById(item.slot);
  if (task) showTask(task, item, where);
}

function showTask(task, item, where) {
  const step = item.entry.value;
  task.dataset.entry = item.id;
  task.dataset.done = step?.outcome ?? "";
  task.querySelector(".said").textContent = step ? item.word ?? step.state ?? step.outcome : "";
  const kept = task.querySelector(".kept");
  kept.dataset.kept = where;
  const says = step && (step.state || step.outcome);
  for (const each of all("[data-answer]", task)) each.setAttribute("aria-pressed", String(each.dataset.answer === says));
  count(task.closest("[data-tasks]"));
}

function count(list) {
  const line = list.querySelector("[data-ended]");
  const ended = all("[data-task]", list).filter((each) => OUTCOMES.includes(each.dataset.done)).length;
  line.textContent = line.textContent.replace(/\d+/, ended);
}

// Another procedure has other steps: the card opens anew once the van knows.
async function follow(choice) {
  const id = newId();
  const step = { heater, step: "procedure", outcome: "done", state: choice.value, at: new Date().toISOString() };
  await queue.put({ id, held: false, slot: "procedure", entry: entryOf("step", step, null, id) });
  await queue.flush();
  if (await vanAnswers()) location.reload();
  else say(visit.dataset.away ?? "");
}
