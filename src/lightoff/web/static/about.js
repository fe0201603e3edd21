// The visit itself: where it stands, what it burns, what was done, what the owner says.
import { newId } from "./identity.js";
import { HOLD_MS, all, entryOf, queue, same, visit } from "./bay.js";
import { sentenceFor } from "./field.js";
import { understood } from "./typed.js";

let about = JSON.parse(visit.dataset.visitBody);
let timer = 0;
let changed = () => {};

// The SI number of a field of the visit: undefined where it is blank, null with what is wrong where it is no number or
// none that can be.
function si(input) {
  const typed = input.value.trim();
  if (!typed) return [undefined, ""];
  const { value } = understood(typed);
  if (value === undefined) return [null, sentenceFor(typed)];
  const { zero, factor, low, high, beyond } = input.dataset;
  const number = Number(((Number(value) + Number(zero)) * Number(factor)).toPrecision(12));
  return number < Number(low) || number > Number(high) ? [null, beyond] : [String(number), ""];
}

function readAbout() {
  const body = structuredClone(about);
  let wrong = "";
  for (const input of all("[data-about]")) {
    if (input.type === "radio" && !input.checked) continue;
    const path = input.dataset.about.split(".");
    let value = input.type === "checkbox" ? input.checked : input.value.trim();
    if (input.dataset.factor) {
      // What nobody typed over stays as exact as it was kept: it is shown rounded, and in another unit.
      input.removeAttribute("aria-invalid");
      if (input.value === input.defaultValue) continue;
      const [number, trouble] = si(input);
      input.toggleAttribute("aria-invalid", number === null);
      wrong ||= trouble;
      if (number === null) continue;
      value = number;
    }
    const home = path.length > 1 ? (body[path[0]] ??= {}) : body;
    const name = path.at(-1);
    if (value === undefined || value === "" || value === false) delete home[name];
    else home[name] = value;
    if (path.length > 1 && !Object.keys(home).length) delete body[path[0]];
  }
  const done = all("[data-work]:checked").map((each) => each.value);
  const other = document.querySelector("[data-other-work]")?.value.split("\n") ?? [];
  const work = [...done, ...other.map((each) => each.trim()).filter(Boolean)];
  if (work.length) body.work_done = work;
  else delete body.work_done;
  for (const each of all(".about .about-kept .doubt")) each.textContent = wrong;
  return body;
}

export async function keepAbout() {
  clearTimeout(timer);
  const body = readAbout();
  if (same(body, about)) return;
  about = body;
  for (const input of all("[data-about][data-factor]:not([aria-invalid])")) input.defaultValue = input.value;
  const item = { id: newId(), held: false, slot: "about" };
  item.entry = entryOf("visit", body, visit.dataset.visitEntry, item.id);
  visit.dataset.visitEntry = item.id;
  await queue.put(item);
  changed();
}

// What an earlier page left on this phone stands in for what the page was made with.
export function restoreAbout(item) {
  about = item.entry.value;
  visit.dataset.visitEntry = item.id;
  for (const input of all("[data-about]")) {
    const value = input.dataset.about.split(".").reduce((body, name) => body?.[name], about);
    if (input.type === "radio") input.checked = input.value === value;
    else if (input.type === "checkbox") input.checked = Boolean(value);
    else if (input.dataset.factor) input.value = input.defaultValue = value === undefined ? "" : written(input, value);
    else input.value = value ?? "";
  }
  const done = new Set(about.work_done ?? []);
  for (const each of all("[data-work]")) { each.checked = done.has(each.value); done.delete(each.value); }
  const other = document.querySelector("[data-other-work]");
  if (other) other.value = [...done].join("\n");
  askForPieces();
}

// Work that puts a piece in asks for the piece: the report alone moves no part, spare or stock.
export function askForPieces() {
  const done = all("[data-work]:checked").map((each) => each.value);
  for (const each of all("[data-piece-of]")) each.hidden = !done.includes(each.dataset.pieceOf);
}

const written = ({ dataset: { factor, zero, decimals } }, value) => String(Number((Number(value) / Number(factor) - Number(zero)).toFixed(Number(decimals))));

export function watchAbout(whenChanged) {
  changed = whenChanged;
  for (const input of all("[data-work]")) input.addEventListener("change", askForPieces);
  document.querySelector("[data-last-place]")?.addEventListener("click", ({ currentTarget: button }) => {
    document.getElementById("a-place").value = button.dataset.lastPlace;
    document.getElementById("a-altitude").value ||= button.dataset.lastAltitude;
    button.hidden = true;
    keepAbout();
  });
  for (const input of all("[data-about], [data-work], [data-other-work]")) {
    input.addEventListener("change", keepAbout);
    input.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(keepAbout, HOLD_MS); });
  }
}
