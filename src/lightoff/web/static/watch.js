// A watch at each field that is timed: two taps instead of a number typed.
import { all, fill, isBounce, remembered, visitId, words } from "./bay.js";
import { besideWhatStands, fit, inputOf, keep, takesOneMore, taking } from "./field.js";

const TICK_MS = 500;
const SHORTEST_WARM_UP_MS = 60_000;
const running = new Map(); // field -> when it was started
let changed = () => {};

export function watchTimes(whenChanged) {
  changed = whenChanged;
  for (const button of all("[data-watch]")) {
    const field = button.closest(".field");
    const started = Number(remembered.get(nameOf(field))); // it runs on while the page is closed
    if (started) running.set(field, started);
    button.addEventListener("click", () => { if (!isBounce(button)) press(field); });
  }
  // The flame ends the wait for it.
  document.addEventListener("moment", ({ detail: { kind, step } }) => {
    if (kind !== "flame") return;
    for (const field of running.keys()) if (field.dataset.key === "time_to_light" && step.contains(field)) stopWatch(field);
  });
  // The first temperature of the warm-up starts the watch for the time between the two, the last one stops it, each
  // at the moment that its own reading takes: that of its photograph, or of its first figure.
  document.addEventListener("change", ({ target }) => {
    const end = target.closest('.field[data-key="coolant_temperature_start"], .field[data-key="coolant_temperature_end"]');
    const field = end && document.querySelector(`.field[data-key="warm_up_time"][data-stage="${end.dataset.stage}"]`);
    if (!field || !target.matches(".value input") || !target.value) return;
    const at = Date.parse(end.dataset.taken || taking.get(end)) || Date.now();
    const since = at - startedAt(field);
    if (end.dataset.key !== "coolant_temperature_end") {
      if (!field.last && !running.has(field)) startWatch(field, at);
      // No heater warms up so soon: both temperatures were typed off a note, and the time is on it too.
    } else if (since >= 0 && since < SHORTEST_WARM_UP_MS) dropWatch(field);
    else stopWatch(field, at);
  });
  tell();
  setInterval(tell, TICK_MS);
}

const nameOf = (field) => `watch.${visitId}.${field.id}`;

export const startedAt = (field) => running.get(field) ?? 0;

function press(field) {
  navigator.vibrate?.(40);
  if (running.has(field)) stopWatch(field);
  else startWatch(field);
}

export function startWatch(field, at = Date.now()) {
  navigator.vibrate?.(40);
  running.set(field, at);
  remembered.set(nameOf(field), String(at));
  tell();
}

// One more of what stands in a field: it is kept beside that, and corrects nothing.
const moreOf = (field) => `more.${visitId}.${field.id}`;
export const isOneMore = (field) => Boolean(remembered.get(moreOf(field)));
export function watchOneMore(field) {
  if (takesOneMore(field)) remembered.set(moreOf(field), "yes");
  startWatch(field);
}

export function dropWatch(field) {
  running.delete(field);
  remembered.drop(nameOf(field));
  remembered.drop(moreOf(field));
  tell();
}

// The reading takes the moment of the stop, and says from when to when it was.
export async function stopWatch(field, now = Date.now()) {
  if (!running.has(field) || now < running.get(field)) return;
  const started = running.get(field);
  const seconds = Math.round((now - started) / 1000);
  running.delete(field);
  remembered.drop(nameOf(field));
  if (isOneMore(field)) besideWhatStands(field);
  remembered.drop(moreOf(field));
  field.dataset.span = `${new Date(started).toISOString()}/${new Date(now).toISOString()}`;
  const unit = field.querySelector("select.unit");
  if (unit) unit.value = "s";
  inputOf(field).value = String(seconds);
  field.dataset.confirmed = "";
  field.dataset.taken = "";
  taking.set(field, new Date(now).toISOString());
  fit(field);
  tell();
  await keep(field, true);
  changed();
}

function tell() {
  for (const button of all("[data-watch]")) {
    const started = running.get(button.closest(".field"));
    const seconds = started ? Math.floor((Date.now() - started) / 1000) : 0;
    const clock = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
    const label = button.querySelector(".watch-label");
    const said = started ? fill(words.watch_stop, { clock }) : words.watch_start;
    if (label.textContent !== said) label.textContent = said;
    button.classList.toggle("runs", Boolean(started));
  }
}
