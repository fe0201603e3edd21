// The card: every field keeps itself, and the judgement follows each keystroke.
import { newId } from "./identity.js";
import { Queue, post } from "./queue.js";
import { followClocks } from "./clocks.js";

const visit = document.getElementById("visit");
const words = JSON.parse(document.getElementById("words").textContent);
const { visit: visitId, heater, author } = visit.dataset;
const NUMBER = /^[+-]?\d+(\.\d+)?$/; // one separator, no grouping: the server's own grammar
const HOLD_MS = 1500; // a field rests this long before it is sent; it lies on the phone at once
const PREVIEW_MS = 50;
const queue = await new Queue().open();
const drafts = new Map(); // field -> held item
const timers = new WeakMap();

const all = (selector, root = document) => [...root.querySelectorAll(selector)];
const fill = (template, values) => template.replace(/\{(\w+)\}/g, (_, name) => values[name] ?? "");
const remembered = {
  get: (key) => { try { return localStorage.getItem(`lightoff.${key}`); } catch { return null; } },
  set: (key, value) => { try { localStorage.setItem(`lightoff.${key}`, value); } catch { /* full or refused */ } },
  drop: (key) => { try { localStorage.removeItem(`lightoff.${key}`); } catch { /* refused */ } },
};

function entryOf(field, value, corrects, id = newId()) {
  return { id, subject: visitId, field, value, author, at: new Date().toISOString(), corrects: corrects || null };
}

// ---- fields -----------------------------------------------------------------------------------
const pen = document.createElement("canvas").getContext("2d");
const isNumber = (field) => field.classList.contains("number");
const inputOf = (field) => field.querySelector(".value input");
const chosen = (field, selector) => field.querySelector(`${selector} input:checked`)?.value ?? null;
const mark = (field, where) => { const kept = field.querySelector(".kept"); if (kept) kept.dataset.kept = where; };
const doubt = (field, sentence) => { const line = field.querySelector(".doubt"); if (line && line.textContent !== sentence) line.textContent = sentence; };

function bodyOf(field, taken) {
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
    return state ? { ...body, state } : null;
  }
  const typed = inputOf(field).value.trim().replace("\u2212", "-");
  const unit = field.querySelector("select.unit")?.value ?? field.querySelector("[data-unit]")?.dataset.unit ?? "";
  const basis = chosen(field, ".basis");
  if (basis) body.basis = basis;
  if (field.dataset.confirmed === typed || field.dataset.confirmed === "yes") body.confirmed = true;
  const top = field.querySelector(".at-top")?.checked || /^-{2,}$/.test(typed);
  if (top) body.at_top = true;
  if (unit) body.unit = unit;
  if (NUMBER.test(typed)) return { ...body, value: typed.replace("+", "") };
  return top ? body : null;
}

const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
const taking = new WeakMap(); // field -> when its reading was taken

// Puts what stands in a field on the phone; `now` also lets it go to the van.
async function keep(field, now) {
  clearTimeout(timers.get(field));
  const draft = drafts.get(field);
  const raw = isNumber(field) ? inputOf(field).value.trim() : "";
  const started = field.dataset.taken || taking.get(field) || new Date().toISOString();
  taking.set(field, started);
  const body = bodyOf(field, started);
  if (!body) {
    if (draft) { await queue.remove(draft.id); drafts.delete(field); }
    if (raw) { remembered.set(`typed.${visitId}.${field.id}`, raw); mark(field, "phone"); doubt(field, sentenceFor(raw)); }
    else if (field.dataset.entry && isNumber(field) && now) await withdraw(field);
    else { remembered.drop(`typed.${visitId}.${field.id}`); mark(field, field.dataset.entry ? "van" : ""); doubt(field, ""); }
    return;
  }
  remembered.drop(`typed.${visitId}.${field.id}`);
  if (draft && same(draft.entry.value, body)) {
    if (now) await release(field, draft);
    return;
  }
  if (!draft && field.last && same(field.last, body)) return;
  // While it is only on this phone the same entry is written again; once sent, a new one corrects it.
  const entry = draft ? { ...draft.entry, value: body } : entryOf("reading", body, field.dataset.entry);
  const item = { id: entry.id, entry, held: true, slot: field.id };
  drafts.set(field, item);
  await queue.put(item);
  if (now) await release(field, item);
  else timers.set(field, setTimeout(() => keep(field, true), HOLD_MS));
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

async function withdraw(field) {
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

function afterwards(field) {
  for (const each of all(".undo, .restamp", field)) each.hidden = false;
  const line = field.querySelector(".taken");
  const gist = field.querySelector(".gist");
  if (gist) gist.textContent = field.dataset.taken ? [instrumentOf(field), clockOf(field.dataset.taken)].filter(Boolean).join(", ") : words.how;
  if (line) line.textContent = field.dataset.taken ? fill(words.taken_at, { clock: clockOf(field.dataset.taken) }) : "";
}

function instrumentOf(field) {
  const select = field.querySelector("select.instrument");
  return select?.value ? select.selectedOptions[0].textContent : "";
}

const clockOf = (iso) => new Date(iso).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });

function sentenceFor(raw) {
  if (/^[+-]?\d+,\d+$/.test(raw)) return fill(words.comma, { typed: raw, point: raw.replace(",", ".") });
  if (/^[+-]?\d+\.$/.test(raw)) return "";
  return fill(words.not_a_number, { typed: raw.slice(0, 24) });
}

// Shows an entry's body in its field.
function show(field, body) {
  if (!isNumber(field)) {
    for (const each of all(".choices input", field)) each.checked = each.value === body?.state;
  } else {
    inputOf(field).value = body?.value ?? (body?.at_top ? "----" : "");
    const unit = field.querySelector("select.unit");
    if (unit && body?.unit) unit.value = body.unit;
    for (const each of all(".basis input", field)) each.checked = each.value === body?.basis;
    const top = field.querySelector(".at-top");
    if (top) top.checked = Boolean(body?.at_top);
    field.dataset.confirmed = body?.confirmed ? "yes" : "";
    fit(field);
  }
  const instrument = field.querySelector(".instrument");
  if (instrument && body?.instrument) instrument.value = body.instrument;
  const place = field.querySelector(".place");
  if (place) place.value = body?.place ?? "";
  basisWord(field);
}

function fit(field) {
  const input = inputOf(field);
  if (!input) return;
  const { fontWeight, fontSize, fontFamily } = getComputedStyle(input);
  pen.font = `${fontWeight} ${fontSize} ${fontFamily}`; // the shorthand is empty where figures are tabular
  input.style.width = `${Math.max(64, Math.ceil(pen.measureText(input.value.replace(/\d/g, "0")).width) + 8)}px`;
}

function basisWord(field) {
  const word = field.querySelector(".basis-word");
  const picked = field.querySelector(".basis input:checked");
  if (word) word.textContent = picked ? `, ${picked.nextElementSibling.textContent}` : "";
  const bases = field.querySelector(".basis");
  field.classList.toggle("needs-basis", Boolean(bases && !picked && inputOf(field)?.value.trim()));
}

// What was said once about a probe goes for its next reading too: basis and instrument.
function inherit(field) {
  const { key } = field.dataset;
  const bases = all(".basis input", field);
  if (bases.length && !bases.some((each) => each.checked)) {
    const twin = all(`.field[data-key="${key}"] .basis input:checked`).find((each) => !field.contains(each));
    const known = twin?.value;
    const pick = bases.find((each) => each.value === known);
    if (pick) pick.checked = true;
  }
  const instrument = field.querySelector("select.instrument");
  if (instrument && !instrument.value) {
    const beside = field.closest(".step")?.querySelector('.field[data-key="flue_o2"] .instrument')?.value;
    const last = remembered.get(`instrument.${key}`) || beside;
    if (last && [...instrument.options].some((each) => each.value === last)) instrument.value = last;
  }
  basisWord(field);
}

for (const field of all(".field")) {
  field.last = field.dataset.entry ? bodyOf(field, field.dataset.taken) : null;
  if (isNumber(field)) fit(field);
  basisWord(field);
  field.addEventListener("input", (event) => {
    if (event.target.matches(".value input")) {
      fit(field);
      field.dataset.confirmed = "";
      const top = field.querySelector(".at-top");
      if (top && /\d/.test(event.target.value)) top.checked = false;
      inherit(field);
      keep(field, false).then(preview);
    } else if (event.target.matches(".place")) keep(field, false).then(preview);
  });
  field.addEventListener("change", (event) => {
    if (event.target.matches("select.instrument")) remembered.set(`instrument.${field.dataset.key}`, event.target.value);
    if (event.target.matches(".at-top")) inputOf(field).value = event.target.checked ? "----" : "";
    if (!event.target.matches(".value input")) inherit(field);
    keep(field, true).then(preview);
  });
  field.addEventListener("click", async (event) => {
    if (event.target.matches(".value")) inputOf(field)?.focus();
    else if (event.target.matches(".insist")) await insist(field);
    else if (event.target.matches(".undo")) await undo(field);
    else if (event.target.matches(".restamp")) await restamp(field);
    else if (event.target.matches(".past")) await past(field);
    else if (event.target.dataset.body) { show(field, JSON.parse(event.target.dataset.body)); await keep(field, true); preview(); }
  });
}

async function insist(field) {
  field.dataset.confirmed = inputOf(field)?.value.trim() || "yes";
  await keep(field, true);
  preview();
  inputOf(field)?.focus();
}

async function undo(field) {
  const before = field.before;
  if (before === undefined) return past(field);
  show(field, before);
  if (before === null) await withdraw(field);
  else await keep(field, true);
  preview();
  return undefined;
}

async function restamp(field) {
  field.dataset.taken = "";
  taking.delete(field);
  await keep(field, true);
  preview();
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

// Enter and the keypad's "next" go on to the next number.
document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !event.target.matches(".value input")) return;
  event.preventDefault();
  const inputs = all(".value input").filter((each) => each.offsetParent);
  inputs[inputs.indexOf(event.target) + 1]?.focus();
});
document.addEventListener("focusin", (event) => {
  for (const each of all(".step.live")) each.classList.remove("live");
  const step = event.target.closest(".step");
  step?.classList.add("live");
  // The line glows beside the row where one works.
  const row = event.target.closest(".field, .events, .form, .actions");
  if (step && row) {
    const top = row.getBoundingClientRect().top - step.getBoundingClientRect().top;
    step.style.setProperty("--live-top", `${top}px`);
    step.style.setProperty("--live-height", `${Math.min(row.offsetHeight, 190)}px`);
  }
  if (step && event.target.closest(".field")) moveAssessment(step);
});

// ---- the visit itself -------------------------------------------------------------------------
let about = JSON.parse(visit.dataset.visitBody);
let aboutTimer = 0;

function si(input) {
  const typed = input.value.trim();
  if (!typed) return undefined;
  if (!NUMBER.test(typed)) return null;
  return String(Number(((Number(typed) + Number(input.dataset.zero)) * Number(input.dataset.factor)).toPrecision(12)));
}

function readAbout() {
  const body = structuredClone(about);
  let good = true;
  for (const input of all("[data-about]")) {
    if (input.type === "radio" && !input.checked) continue;
    const path = input.dataset.about.split(".");
    let value = input.type === "checkbox" ? input.checked : input.value.trim();
    if (input.dataset.factor) {
      value = si(input);
      const line = input.closest(".about").querySelector(".about-kept .doubt");
      if (value === null) { line.textContent = sentenceFor(input.value.trim()); good = false; continue; }
    }
    const home = path.length > 1 ? (body[path[0]] ??= {}) : body;
    const name = path.at(-1);
    if (value === undefined || value === "" || value === false) delete home[name];
    else home[name] = value;
    if (path.length > 1 && !Object.keys(home).length) delete body[path[0]];
  }
  const done = [...all("[data-work]:checked").map((each) => each.value), ...(document.querySelector("[data-other-work]")?.value.split("\n").map((each) => each.trim()).filter(Boolean) ?? [])];
  if (done.length) body.work_done = done;
  else delete body.work_done;
  if (good) for (const each of all(".about .about-kept .doubt")) each.textContent = "";
  return body;
}

async function keepAbout() {
  clearTimeout(aboutTimer);
  const body = readAbout();
  if (same(body, about)) return;
  about = body;
  const item = { id: newId(), held: false, slot: "about" };
  item.entry = entryOf("visit", body, visit.dataset.visitEntry, item.id);
  visit.dataset.visitEntry = item.id;
  await queue.put(item);
  preview();
}
for (const input of all("[data-about], [data-work], [data-other-work]")) {
  input.addEventListener("change", keepAbout);
  input.addEventListener("input", () => { clearTimeout(aboutTimer); aboutTimer = setTimeout(keepAbout, HOLD_MS); });
}

// ---- moments ----------------------------------------------------------------------------------
for (const button of all("[data-event]")) {
  button.addEventListener("click", async () => {
    const item = { id: newId(), held: false, slot: "moment" };
    item.entry = entryOf("event", { heater, kind: button.dataset.event, at: new Date().toISOString() }, null, item.id);
    addMoment(item.entry, "");
    await queue.put(item);
    if (["adjusted", "opened"].includes(button.dataset.event) && hasTestReadings()) startTest();
    navigator.vibrate?.(40);
    preview();
  });
}

function addMoment(entry, where) {
  for (const list of all("[data-moments]")) {
    if (!list.dataset.moments.split("|").includes(entry.value.kind)) continue;
    const item = document.createElement("li");
    item.dataset.entry = entry.id;
    item.dataset.kind = entry.value.kind;
    item.dataset.at = entry.value.at;
    const text = document.createElement("span");
    const time = document.createElement("b");
    time.textContent = clockOf(entry.value.at);
    text.append(time, ` ${words.events[entry.value.kind]}`);
    const kept = document.querySelector("#visit .legend ~ .kept, .about-kept .kept").cloneNode(true);
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

document.addEventListener("click", async (event) => {
  if (!event.target.matches(".undo-event")) return;
  const corrects = event.target.closest("li").dataset.entry;
  const item = { id: newId(), held: false, slot: "moment" };
  item.entry = entryOf("event", null, corrects, item.id);
  await queue.put(item); // kept first, shown after
  for (const each of all(`li[data-entry="${corrects}"]`)) each.remove();
  preview();
});

// ---- a new test -------------------------------------------------------------------------------
const leftFields = () => all('.field[data-stage="as left"]');
const hasTestReadings = () => leftFields().some((each) => each.dataset.set && each.dataset.entry);

function startTest() {
  visit.dataset.test = String(Number(visit.dataset.test || "1") + 1);
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
document.getElementById("new-test")?.addEventListener("click", () => { startTest(); preview(); });

// ---- photo now, number later ------------------------------------------------------------------
document.getElementById("photo").addEventListener("change", async (event) => {
  const [file] = event.target.files;
  event.target.value = "";
  if (!file) return;
  if (file.size > 20e6) { say(words.photo_large); return; }
  const field = document.querySelector(".step.live .field:focus-within") ?? document.querySelector(".field.last-focus");
  const value = { heater, taken_at: new Date().toISOString(), sha256: "", media_type: file.type || "image/jpeg" };
  if (field) { value.reading_key = field.dataset.key; value.stage = field.dataset.stage; }
  const item = { id: newId(), held: false, slot: "photo", photo: file };
  item.entry = entryOf("photo", value, null, item.id);
  if (field && !field.dataset.taken) { taking.set(field, value.taken_at); field.dataset.photo = item.id; }
  addPhoto(item);
  await queue.put(item);
});
document.addEventListener("focusin", (event) => {
  const field = event.target.closest(".field");
  if (!field) return;
  for (const each of all(".last-focus")) each.classList.remove("last-focus");
  field.classList.add("last-focus");
});

function addPhoto(item) {
  const row = document.getElementById("photo-row").content.firstElementChild.cloneNode(true);
  row.dataset.entry = item.id;
  const image = row.querySelector("img");
  image.src = URL.createObjectURL(item.photo);
  image.alt = fill(words.photo_at, { clock: clockOf(item.entry.value.taken_at) });
  row.querySelector(".caption").append(image.alt, " ", document.querySelector(".about-kept .kept").cloneNode(true));
  row.querySelector(".kept").dataset.kept = "phone";
  document.getElementById("photos").append(row);
}

// ---- the judgement follows --------------------------------------------------------------------
let asked = null;
let previewTimer = 0;

function preview() {
  clearTimeout(previewTimer);
  previewTimer = setTimeout(askPreview, PREVIEW_MS);
}

async function askPreview() {
  asked?.abort();
  asked = new AbortController();
  const entries = (await queue.of(visitId)).filter((each) => !each.refused && !each.photo).map((each) => each.entry);
  try {
    const answer = await post(`/visits/${encodeURIComponent(visitId)}/preview`, entries, asked.signal);
    showPreview(answer);
  } catch (fault) {
    if (fault.name !== "AbortError") visit.dataset.stale = "yes";
  }
}

function showPreview(answer) {
  delete visit.dataset.stale;
  const box = document.getElementById("assessment");
  const open = box.querySelector("details.gates")?.open;
  box.innerHTML = answer.assessment;
  if (open) box.querySelector("details.gates")?.setAttribute("open", "");
  for (const field of all(".field.number")) {
    const scale = field.querySelector(".scale");
    const drawn = answer.scales[field.dataset.slot] ?? "";
    if (scale.dataset.drawn !== drawn) { scale.innerHTML = drawn; scale.dataset.drawn = drawn; }
  }
  for (const field of all(".field")) {
    const id = drafts.get(field)?.id ?? field.dataset.entry;
    const said = answer.doubts[id];
    const raw = isNumber(field) ? inputOf(field).value.trim() : "";
    if (said || !raw || NUMBER.test(raw)) doubt(field, said?.sentence ?? "");
    const button = field.querySelector(".insist");
    if (button) { button.hidden = !said?.ask; button.textContent = fill(words.keep_it, { typed: raw }); }
  }
  const next = document.getElementById("next");
  next.href = answer.next.anchor;
  next.querySelector(".next-label").innerHTML = answer.next.label;
  next.querySelector(".next-line").innerHTML = answer.next.line;
}

document.getElementById("next").addEventListener("click", (event) => {
  const target = document.querySelector(new URL(event.currentTarget.href).hash || "#none");
  if (!target) return;
  event.preventDefault();
  target.closest("details.more")?.setAttribute("open", "");
  target.scrollIntoView({ block: "center" });
  (target.querySelector("input, select, button, a") ?? target).focus({ preventScroll: true });
});

// On a phone the paragraph stands under the step where one works.
const wide = matchMedia("(min-width: 1000px)");
function moveAssessment(step) {
  const box = document.getElementById("assessment");
  if (wide.matches) { if (box.parentElement !== visit) visit.append(box); return; }
  if (step && step.lastElementChild !== box) step.append(box);
}
wide.addEventListener("change", () => moveAssessment(document.querySelector(".step.live")));
const nextField = document.querySelector(new URL(document.getElementById("next").href, location).hash || "#none");
if (!wide.matches && nextField) moveAssessment(nextField.closest(".step"));

// ---- where each thing is kept -----------------------------------------------------------------
function say(sentence) {
  const line = document.getElementById("trouble");
  line.textContent = sentence;
  line.hidden = !sentence;
}
queue.addEventListener("kept", ({ detail: { item, where, sentence } }) => {
  const shown = where === "refused" ? "phone" : where;
  const field = item.slot?.startsWith("f-") ? document.getElementById(item.slot) : null;
  if (field) {
    const current = drafts.get(field)?.id ?? field.dataset.entry;
    if (current === item.id) mark(field, item.entry.value === null && where === "van" ? "" : shown);
    if (where === "refused") doubt(field, sentence);
  }
  if (item.slot === "about") for (const each of all(".about-kept .kept")) each.dataset.kept = shown;
  for (const each of all(`[data-entry="${item.id}"] .kept`)) if (!each.closest(".field")) each.dataset.kept = shown;
  if (where === "refused" && !field) say(sentence);
});
queue.addEventListener("away", ({ detail }) => say(detail.sentence || words.away));
queue.addEventListener("here", () => { say(""); if (visit.dataset.stale) preview(); });

// What an earlier page left on this phone comes back into its field.
for (const item of await queue.of(visitId)) {
  const field = item.slot?.startsWith("f-") ? document.getElementById(item.slot) : null;
  if (field) {
    show(field, item.entry.value);
    field.last = item.entry.value;
    field.dataset.entry = item.id;
    field.dataset.taken = item.entry.value?.taken_at ?? "";
    mark(field, "phone");
  } else if (item.slot === "moment" && item.entry.value) addMoment(item.entry, "phone");
  else if (item.slot === "moment") for (const each of all(`li[data-entry="${item.entry.corrects}"]`)) each.remove();
  else if (item.slot === "photo") addPhoto(item);
  else if (item.slot === "about") { about = item.entry.value; visit.dataset.visitEntry = item.id; }
  if (item.held) await queue.put({ ...item, held: false });
}
for (const field of all(".field.number")) {
  const raw = remembered.get(`typed.${visitId}.${field.id}`);
  if (raw && !inputOf(field).value) { inputOf(field).value = raw; fit(field); mark(field, "phone"); doubt(field, sentenceFor(raw)); }
}
addEventListener("pagehide", () => { for (const field of drafts.keys()) keep(field, true); keepAbout(); });

// The page is left only after all that can be sent was sent.
document.getElementById("close-form")?.addEventListener("submit", async (event) => {
  event.preventDefault();
  for (const field of [...drafts.keys()]) await keep(field, true);
  await keepAbout();
  await queue.flush();
  event.target.submit();
});

document.fonts.load("740 42px \"Atkinson Hyperlegible Next\"").then(() => { for (const field of all(".field.number")) fit(field); });
followClocks(visit, words);
queue.flush();
preview();
navigator.wakeLock?.request("screen").catch(() => {});
visit.dataset.ready = "yes";
