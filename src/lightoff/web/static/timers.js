// Timers of steps, two taps each: light-off from lamp to flame, after-run till the fan stops. Each is the watch of the
// field that takes its reading, so it runs on while the page is closed, and the reading says from when to when.
import { all, isSoonAfter, visitId, remembered, words } from "./bay.js";
import { keep, show } from "./field.js";
import { noteMoment } from "./moments.js";
import { keepStep } from "./tasks.js";
import { dropWatch, isOneMore, startedAt, startWatch, stopWatch, watchOneMore } from "./watch.js";

const TICK_MS = 250;
// A thumb follows the fan, and no two clocks start at once. Common practice, no source.
const GRACE_MS = 10000;
const FROM_GOOD_TO_BAD = ["first try", "second try", "later try", "did not light"];
const BUZZ = { light_off: [60], after_run: [400, 150, 400, 150, 400] };
let changed = () => {};

export function watchTimers(whenChanged) {
  changed = whenChanged;
  for (const timer of all("[data-timer]")) {
    timer.querySelector("[data-timer-start]").addEventListener("click", () => start(timer));
    timer.querySelector("[data-timer-more]")?.addEventListener("click", () => { watchOneMore(fieldOf(timer)); tell(); });
    timer.querySelector("[data-timer-drop]").addEventListener("click", () => { dropWatch(fieldOf(timer)); tell(); });
    for (const each of all("[data-timer-stop]", timer)) {
      // The buttons that stop it stand where the one stood that began it.
      each.addEventListener("click", () => { if (!isSoonAfter(startedAt(fieldOf(timer)))) stop(timer, each.dataset.timerStop); });
    }
  }
  tell();
  setInterval(tell, TICK_MS);
}

const fieldOf = (timer) => document.getElementById(timer.dataset.field);
const lengthOf = (timer) => Number(timer.dataset.length) * 1000;
const sectionOf = (timer) => timer.closest(".step");

async function start(timer) {
  const field = fieldOf(timer);
  if (!field || startedAt(field)) return;
  startWatch(field);
  tell();
  // The burner is off from here on, or a flame is to come.
  if (timer.dataset.timer === "after_run") await noteMoment("flame out", sectionOf(timer));
}

async function stop(timer, state) {
  const field = fieldOf(timer);
  const ran = Date.now() - startedAt(field);
  const isMore = isOneMore(field);
  if (timer.dataset.timer === "light_off") {
    await noteMoment("flame", sectionOf(timer)); // which stops the watch of its section
    if (startedAt(field)) await stopWatch(field);
    await answer(timer, "light_off", state, { onlyIfWorse: isMore });
  } else {
    await stopWatch(field);
    const full = lengthOf(timer);
    if (full && ran >= full - GRACE_MS) await answer(timer, "after_run", "ran its length");
  }
  tell();
  const task = timer.closest("[data-task]");
  const done = task.querySelector('[data-answer="done"]');
  if (done && !task.dataset.done) {
    await keepStep(task, { heater: document.getElementById("visit").dataset.heater, step: task.dataset.task, outcome: "done", at: new Date().toISOString() }, done.dataset.word);
  }
  changed();
}

// What was seen as the watch was stopped goes into its own field of the same stage.
async function answer(timer, key, state, { onlyIfWorse = false } = {}) {
  const { stage } = fieldOf(timer).dataset;
  const field = document.querySelector(`.field.states[data-key="${key}"][data-stage="${stage}"]`);
  if (!field) return;
  const worth = (each) => FROM_GOOD_TO_BAD.indexOf(each);
  if (onlyIfWorse && worth(state) <= worth(field.last?.state)) return; // one that went better does away with none
  show(field, { state });
  await keep(field, true);
}

const clock = (ms) => { const s = Math.floor(ms / 1000); return `${Math.floor(s / 60)}:${String(s % 60).padStart(2, "0")}`; };

function tell() {
  for (const timer of all("[data-timer]")) {
    const field = fieldOf(timer);
    const since = field && startedAt(field);
    timer.classList.toggle("runs", Boolean(since));
    timer.querySelector("[data-timer-start]").hidden = Boolean(since);
    timer.querySelector("[data-timer-stops]").hidden = !since;
    const line = timer.querySelector(".clock");
    const kept = since ? "" : field?.last?.value ?? "";
    const more = timer.querySelector("[data-timer-more]");
    if (more) more.hidden = !kept;
    timer.classList.toggle("timed", Boolean(kept));
    line.hidden = !since && !kept;
    if (kept) write(line, `${kept} ${words.unit_s}`, words.timer_kept);
    if (!since) continue;
    const ran = Date.now() - since;
    const full = lengthOf(timer);
    const over = full && ran >= full;
    let [shown, said] = [ran, timer.dataset.timer === "light_off" ? words.timer_lamp : words.timer_running];
    if (full) [shown, said] = over ? [ran - full, words.timer_over] : [full - ran + 999, words.timer_to_go];
    write(line, clock(shown), said);
    if (over) buzzOnce(timer, since);
  }
}

function write(line, shown, said) {
  const [figures, says] = line.children;
  if (figures.textContent !== shown) figures.textContent = shown;
  if (says.textContent !== said) says.textContent = said;
}

// The sheet's length is over: told once, also where the page was closed meanwhile.
function buzzOnce(timer, since) {
  const key = `buzzed.${visitId}.${timer.dataset.field}`;
  if (remembered.get(key) === String(since)) return;
  remembered.set(key, String(since));
  navigator.vibrate?.(BUZZ[timer.dataset.timer]);
  timer.dataset.over = "yes";
}
