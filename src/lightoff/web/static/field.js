// One field of the card: what stands in it, where it is kept, and how it is sent.
import { newId } from "./identity.js";
import { HOLD_MS, all, clockOf, copyOf, entryOf, fill, heater, queue, remembered, same, visit, visitId, words, whenUnfolded } from "./bay.js";
import { isDashes, isHalfTyped, understood } from "./typed.js";

export const drafts = new Map(); // field -> held item
export const taking = new WeakMap(); // field -> when its reading was taken
const timers = new WeakMap();
const OFF_A_PHOTO = "by photograph"; // a basis of the book, as terms/visit.py names it
const pen = document.createElement("canvas").getContext("2d");
let changed = () => {}; // told after each change: the judgement follows

export const isNumber = (field) => field.classList.contains("number");
export const inputOf = (field) => field.querySelector(".value input");
export const typedIn = (field) => (isNumber(field) ? inputOf(field).value.trim() : "");
const chosen = (field, selector) => field.querySelector(`${selector} input:checked`)?.value ?? null;
const put = (line, sentence) => { if (line && line.textContent !== sentence) line.textContent = sentence; };
export const mark = (field, where) => { const kept = field.querySelector(".kept"); if (kept) kept.dataset.kept = where; };
export function doubt(field, sentence, { ofTyping = false } = {}) {
  const line = field.querySelector(".doubt");
  if (!line) return;
  line.dataset.typing = ofTyping ? "yes" : "";
  put(line, sentence);
}

const unitIn = (field) => field.querySelector("select.unit")?.value ?? field.querySelector("[data-unit]")?.dataset.unit ?? "";
const unitWord = (field) => (field.querySelector("select.unit")?.selectedOptions[0] ?? field.querySelector("[data-unit]"))?.textContent ?? "";

// Whether the meter showed that it could show no more.
function isAtTop(field) {
  const box = field.querySelector(".at-top");
  return Boolean(box?.checked || (box && isDashes(typedIn(field))));
}

// The body of the reading that stands in a field, or null where none does.
export function bodyOf(field, taken) {
  const { key, stage, set } = field.dataset;
  const body = { heater, key, stage, taken_at: taken };
  if (stage === "as left") body.test = visit.dataset.test;
  if (set) body.set_number = Number(set);
  const instrument = field.querySelector(".instrument")?.value;
  if (instrument) body.instrument = instrument;
  if (field.dataset.photo) body.photo = field.dataset.photo;
  const place = field.querySelector(".place")?.value.trim();
  if (place) body.place = place;
  if (!isNumber(field)) {
    const state = chosen(field, ".choices");
    if (field.dataset.grouped) body.basis = "grouped";
    return state ? { ...body, state } : null;
  }
  const typed = typedIn(field);
  const read = understood(typed);
  const unit = unitIn(field);
  const basis = chosen(field, ".basis") ?? field.dataset.basis;
  if (basis) body.basis = basis;
  if (field.dataset.confirmed === typed || field.dataset.confirmed === "yes") body.confirmed = true;
  const top = isAtTop(field);
  if (top) body.at_top = true;
  if (unit) body.unit = unit;
  if (field.dataset.span) body.note = field.dataset.span;
  if (read.value !== undefined) return { ...body, value: read.value };
  return top ? body : null;
}

// Puts what stands in a field on the phone; `now` also lets it go to the van.
export async function keep(field, now) {
  clearTimeout(timers.get(field));
  const draft = drafts.get(field);
  const raw = typedIn(field);
  const started = field.dataset.taken || taking.get(field) || new Date().toISOString();
  taking.set(field, started);
  const body = bodyOf(field, started);
  echo(field);
  if (!body) {
    await keepRaw(field, raw, now);
    return;
  }
  remembered.drop(`typed.${visitId}.${field.id}`);
  if (field.querySelector(".doubt")?.dataset.typing) doubt(field, "");
  if (draft && same(draft.entry.value, body)) {
    if (now) await release(field, draft);
    return;
  }
  if (!draft && field.last && same(field.last, body)) return;
  // While it is only on this phone the same entry is written again; once sent, a new one corrects it.
  const entry = draft ? { ...draft.entry, value: body } : entryOf("reading", body, await standing(field));
  const item = { id: entry.id, entry, held: true, slot: field.id };
  drafts.set(field, item);
  await queue.put(item);
  if (now) await release(field, item);
  else timers.set(field, setTimeout(() => keep(field, true), HOLD_MS));
}

// What is no number stays on this phone; a number that stood here before no longer counts.
async function keepRaw(field, raw, now) {
  const draft = drafts.get(field);
  if (draft) { await queue.remove(draft.id); drafts.delete(field); }
  if (field.last && isNumber(field)) {
    if (now) await withdraw(field);
    else timers.set(field, setTimeout(() => keep(field, true), HOLD_MS));
  }
  if (raw) {
    remembered.set(`typed.${visitId}.${field.id}`, raw);
    mark(field, "phone");
    doubt(field, now || !isHalfTyped(raw) ? sentenceFor(raw) : "", { ofTyping: true });
  } else {
    remembered.drop(`typed.${visitId}.${field.id}`);
    if (!field.dataset.entry) mark(field, "");
    doubt(field, "");
  }
}

// The entry that a new one corrects. One that the book refused never stood: it is let go, with its sentence.
async function standing(field) {
  const { refused } = field;
  if (!refused) return field.dataset.entry;
  field.refused = null;
  await queue.remove(refused.id);
  return refused.entry.corrects;
}

async function release(field, item) {
  drafts.delete(field);
  field.before = field.last ?? null;
  field.last = item.entry.value;
  field.dataset.entry = item.id;
  field.dataset.taken = item.entry.value?.taken_at ?? "";
  await queue.put({ ...item, held: false });
  afterwards(field);
}

export async function withdraw(field) {
  const item = { id: newId(), slot: field.id };
  item.entry = entryOf("reading", null, field.dataset.entry, item.id);
  item.held = false;
  field.before = field.last ?? null;
  field.last = null;
  field.dataset.entry = item.id;
  field.dataset.taken = "";
  taking.delete(field);
  await queue.put(item);
  afterwards(field);
}

export function afterwards(field) {
  field.dataset.filled = field.last ? "yes" : "";
  for (const each of all(".undo, .restamp", field)) each.hidden = false;
  const more = field.querySelector(".one-more");
  if (more) more.hidden = !takesOneMore(field);
  const gist = field.querySelector(".gist");
  const how = [field.dataset.grouped && words.grouped, instrumentOf(field), field.dataset.taken && clockOf(field.dataset.taken)];
  if (gist) gist.textContent = field.dataset.taken ? how.filter(Boolean).join(", ") : words.how;
  put(field.querySelector(".taken"), field.dataset.taken ? fill(words.taken_at, { clock: clockOf(field.dataset.taken) }) : "");
}

function instrumentOf(field) {
  const select = field.querySelector("select.instrument");
  return select?.value ? select.selectedOptions[0].textContent : "";
}

export function sentenceFor(raw) {
  const { key, values } = understood(raw);
  return key && raw ? fill(words.typed[key], values) : "";
}

// Says back the number and the unit that were understood, where they do not look like what was typed, and what dashes
// were taken for.
function echo(field) {
  const line = field.querySelector(".echo");
  if (!line) return;
  const raw = typedIn(field);
  const { value } = understood(raw);
  if (value === undefined && isAtTop(field)) put(line, words.above_range);
  else put(line, value === undefined || value === raw ? "" : fill(words.understood, { number: value.replace("-", "\u2212"), unit: unitWord(field) }).trim());
}

// Of what is read once a start, one more is kept beside what stands, and corrects nothing.
const MOST_SETS = 9; // as the book takes them
export const takesOneMore = (field) => Boolean(field.last) && Number(field.dataset.set || 1) < MOST_SETS;
export function besideWhatStands(field) {
  if (!field.last) return;
  standsBeside(field, field.last);
  field.dataset.set = String(Number(field.dataset.set || 1) + 1);
  field.last = null;
  field.dataset.entry = "";
  field.dataset.taken = "";
  taking.delete(field);
  delete field.dataset.photo;
}
export function standsBeside(field, body) {
  const line = field.querySelector(".beside");
  if (!line || !body) return;
  const said = line.querySelector("span");
  const value = body.value === undefined ? "----" : `${body.value}\u00a0${[...field.querySelectorAll(".unit option")].find((each) => each.value === body.unit)?.textContent ?? unitWord(field)}`;
  said.textContent = [said.textContent, value].filter(Boolean).join(", ");
  line.hidden = false;
}
export function nothingBeside(field) {
  const line = field.querySelector(".beside");
  if (!line) return;
  delete field.dataset.set;
  line.hidden = true;
  line.querySelector("span").textContent = "";
}
async function oneMore(field) {
  if (drafts.has(field)) await keep(field, true);
  if (!takesOneMore(field)) return;
  besideWhatStands(field);
  show(field, null);
  afterwards(field);
  mark(field, "");
  inputOf(field).focus();
}

// Shows an entry's body in its field.
export function show(field, body) {
  if (!isNumber(field)) {
    for (const each of all(".choices input", field)) each.checked = each.value === body?.state;
    field.dataset.grouped = body?.basis === "grouped" ? "yes" : "";
  } else {
    inputOf(field).value = body?.value ?? (body?.at_top ? "----" : "");
    const unit = field.querySelector("select.unit");
    if (unit && body?.unit) unit.value = body.unit;
    for (const each of all(".basis input", field)) each.checked = each.value === body?.basis;
    const top = field.querySelector(".at-top");
    if (top) top.checked = Boolean(body?.at_top);
    field.dataset.confirmed = body?.confirmed ? "yes" : "";
    field.dataset.basis = body?.basis === OFF_A_PHOTO ? OFF_A_PHOTO : "";
    field.dataset.span = body?.note ?? "";
    fit(field);
    echo(field);
  }
  const instrument = field.querySelector(".instrument");
  if (instrument && body?.instrument) instrument.value = body.instrument;
  const place = field.querySelector(".place");
  if (place) place.value = body?.place ?? "";
  basisWord(field);
}

const LONG_PX = 125; // beyond it a number with its unit has no room in half a phone's width
const MOST_PX = 250; // beyond it nothing that can be read is typed, and the phone ends
export function fit(field) {
  const input = inputOf(field);
  if (!input) return;
  const { fontWeight, fontSize, fontFamily } = getComputedStyle(input);
  pen.font = `${fontWeight} ${fontSize} ${fontFamily}`; // the shorthand is empty where figures are tabular
  const least = input.value ? 64 : 24; // the unit stands where the number will
  const width = Math.min(MOST_PX, Math.max(least, Math.ceil(pen.measureText(input.value.replace(/\d/g, "0")).width) + 8));
  input.style.width = `${width}px`;
  field.classList.toggle("long", width > LONG_PX);
}

function basisWord(field) {
  const word = field.querySelector(".basis-word");
  const picked = field.querySelector(".basis input:checked");
  const said = picked ? picked.nextElementSibling.textContent : field.dataset.basis && words.by_photograph;
  if (word) word.textContent = said ? `, ${said}` : "";
  const bases = field.querySelector(".basis");
  field.classList.toggle("needs-basis", Boolean(bases && !picked && typedIn(field)));
}

// What was said once about a probe goes for its next reading of this visit too: basis and instrument. Of no other visit:
// gates rest on the basis. How a meter reads oxygen is a fact of the meter, where the shop's list says it, and is shown.
function inherit(field) {
  const { key } = field.dataset;
  const instrument = field.querySelector("select.instrument");
  if (instrument && !instrument.value) {
    const beside = field.closest(".step")?.querySelector('.field[data-key="flue_o2"] .instrument')?.value;
    const last = remembered.get(`instrument.${key}`) || beside;
    if (last && [...instrument.options].some((each) => each.value === last)) instrument.value = last;
  }
  const bases = all(".basis input", field);
  if (bases.length && !bases.some((each) => each.checked)) {
    const twin = all(`.field[data-key="${key}"] .basis input:checked`).find((each) => !field.contains(each));
    const own = JSON.parse(field.querySelector(".basis").dataset.own || "{}");
    const known = twin?.value ?? own[field.querySelector(".instrument")?.value];
    const pick = bases.find((each) => each.value === known);
    if (pick) pick.checked = true;
  }
  basisWord(field);
}

// ---- hands on the fields ------------------------------------------------------------------------
whenUnfolded(".field > .how", (fold) => {
  if (fold.querySelector(".tools")) return;
  fold.append(copyOf("field-tools"));
  for (const each of all(".undo, .restamp", fold)) each.hidden = !fold.parentElement.dataset.entry;
});

export function watchFields(whenChanged) {
  changed = whenChanged;
  for (const field of all(".field")) {
    field.last = field.dataset.entry ? bodyOf(field, field.dataset.taken) : null;
    if (isNumber(field)) { fit(field); echo(field); }
    basisWord(field);
    field.addEventListener("input", typing);
    field.addEventListener("change", settled);
    field.addEventListener("click", tapped);
    field.addEventListener("focusin", entered);
  }
  for (const each of all("[data-together]")) each.addEventListener("click", () => answerTogether(each));
}

// A number that stands is typed over. The tap that enters a field puts the caret in it afterwards; a later one stays.
const ENTERING_MS = 600;
function entered({ target, currentTarget: field }) {
  if (!target.matches(".value input")) return;
  target.select();
  field.enteredAt = Date.now();
}

function typing({ target, currentTarget: field }) {
  if (target.matches(".value input")) {
    fit(field);
    field.askedAt = 0;
    field.dataset.confirmed = "";
    field.dataset.basis = ""; // typed by hand: seen by eye
    field.dataset.span = ""; // and timed by another watch
    const top = field.querySelector(".at-top");
    if (top) top.checked = isDashes(target.value);
    inherit(field);
    keep(field, false).then(changed);
  } else if (target.matches(".place")) keep(field, false).then(changed);
}

function settled({ target, currentTarget: field }) {
  if (target.matches("select.instrument")) remembered.set(`instrument.${field.dataset.key}`, target.value);
  if (target.matches(".at-top")) inputOf(field).value = target.checked ? "----" : "";
  if (target.matches(".choices input")) field.dataset.grouped = ""; // looked at by itself
  if (!target.matches(".value input")) inherit(field);
  keep(field, true).then(changed);
}

// One tap for several things seen; what was answered by itself stays as it is.
async function answerTogether(button) {
  for (const [key, state] of JSON.parse(button.dataset.together)) {
    const field = button.closest(".step").querySelector(`.field.states[data-key="${key}"]`);
    if (!field || chosen(field, ".choices")) continue;
    show(field, { state, basis: "grouped" });
    await keep(field, true);
  }
  changed();
}

// Where the probe was zeroed, in one tap with the answer that it was outdoors.
async function zeroedAt(field, place) {
  show(field, { state: "outdoors", place });
  await keep(field, true);
  changed();
}

async function tapped({ target, currentTarget: field }) {
  if (target.matches(".value")) inputOf(field)?.focus();
  else if (target.matches(".value input")) { if (Date.now() - (field.enteredAt ?? 0) < ENTERING_MS) target.select(); }
  else if (target.matches(".insist")) await insist(field);
  else if (target.matches(".undo")) await undo(field);
  else if (target.matches(".restamp")) await restamp(field);
  else if (target.matches(".past")) await past(field);
  else if (target.matches(".one-more")) await oneMore(field);
  else if (target.dataset.zeroed) await zeroedAt(field, target.dataset.zeroed);
  else if (target.dataset.body) {
    if (target.closest(".pictures") && field.shown) field.dataset.photo = field.shown; // read off the one that is shown
    show(field, JSON.parse(target.dataset.body));
    await keep(field, true);
    changed();
  }
}

async function insist(field) {
  field.dataset.confirmed = typedIn(field) || "yes";
  field.querySelector(".insist").hidden = true;
  await keep(field, true);
  changed();
  inputOf(field)?.focus();
}

// A nought that must be meant holds the keypad's "next": it goes on once the question was seen and "next" pressed
// again, which says the same as the button. Nobody reads so fast as a finger bounces. Common practice, no source.
const SEEN_MS = 700;
export async function holdsNext(field) {
  const isAsked = field.dataset.asksNought !== undefined && !field.dataset.confirmed && Number(understood(typedIn(field)).value) === 0;
  if (!isAsked) return false;
  const isSeen = !field.querySelector(".insist").hidden && field.askedAt && Date.now() - field.askedAt > SEEN_MS;
  if (isSeen) await insist(field);
  else if (!field.askedAt) { field.askedAt = Date.now(); await keep(field, true); changed(); }
  return !isSeen;
}

async function undo(field) {
  const before = field.before;
  if (before === undefined) return past(field);
  show(field, before);
  if (before === null) await withdraw(field);
  else await keep(field, true);
  changed();
  return undefined;
}

async function restamp(field) {
  field.dataset.taken = "";
  taking.delete(field);
  await keep(field, true);
  changed();
}

async function past(field) {
  const box = field.querySelector(".history");
  try {
    const response = await fetch(`/visits/${encodeURIComponent(visitId)}/history/${encodeURIComponent(field.dataset.slot)}`);
    box.innerHTML = response.ok ? await response.text() : "";
  } catch {
    box.textContent = words.away;
  }
}
