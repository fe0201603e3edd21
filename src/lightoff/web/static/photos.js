// Photo now, number later: the picture stands at its field, and the number takes the picture's time.
import { newId } from "./identity.js";
import { all, clockOf, entryOf, fill, heater, keptMark, queue, remembered, say, words } from "./bay.js";
import { keep, taking } from "./field.js";
import { offerSpot } from "./spot.js";

const MOST_BYTES = 40e6;
let changed = () => {};

export function watchCamera(whenChanged) {
  changed = whenChanged;
  document.getElementById("photo").addEventListener("change", taken);
  for (const each of all("[data-shoot]")) each.addEventListener("change", takenAtStep);
  document.addEventListener("focusin", ({ target }) => {
    const field = target.closest(".field");
    if (!field) return;
    for (const each of all(".last-focus")) each.classList.remove("last-focus");
    field.classList.add("last-focus");
  });
}

async function taken(event) {
  const [file] = event.target.files;
  event.target.value = "";
  if (!file) return;
  if (file.size > MOST_BYTES) { say(words.photo_large, { inSight: true }); return; }
  const field = document.querySelector(".field.last-focus");
  const value = { heater, taken_at: new Date().toISOString(), sha256: "", media_type: file.type || "image/jpeg" };
  if (field) { value.reading_key = field.dataset.key; value.stage = field.dataset.stage; }
  const item = { id: newId(), held: false, slot: "photo", photo: file };
  item.entry = entryOf("photo", value, null, item.id);
  addPhoto(item);
  await queue.put(item); // kept first; then the field may speak of it
  if (!field) return;
  remembered.set(`photo.${item.id}`, field.id);
  claim(field, row(item.id));
  if (field.last && !isOffAPhoto(field)) { await keep(field, true); changed(); }
}

// A photograph that a step asks for: it says before or after, and answers the step where nothing else does.
async function takenAtStep({ target }) {
  const [file] = target.files;
  target.value = "";
  if (!file) return;
  if (file.size > MOST_BYTES) { say(words.photo_large, { inSight: true }); return; }
  const task = target.closest("[data-task]");
  const value = { heater, taken_at: new Date().toISOString(), sha256: "", media_type: file.type || "image/jpeg", step: task.dataset.task, stage: target.dataset.shoot };
  const field = document.querySelector(`.field[data-key="${target.dataset.reads}"][data-stage="${target.dataset.shoot}"]`);
  if (field) value.reading_key = field.dataset.key;
  const item = { id: newId(), held: false, slot: "photo", photo: file };
  item.entry = entryOf("photo", value, null, item.id);
  const answers = !task.dataset.done && task.dataset.byPhoto !== undefined;
  if (answers) item.answers = value.step;
  addPhoto(item);
  await queue.put(item);
  if (field) {
    remembered.set(`photo.${item.id}`, field.id);
    claim(field, row(item.id));
    if (field.last && !isOffAPhoto(field)) { await keep(field, true); changed(); }
  }
  if (answers && !task.dataset.done && row(item.id)) task.querySelector(".answers [data-answer]")?.click();
}

function addShot({ id, entry: { value } }, picture) {
  const thing = document.querySelector(`#task-${value.step} .shots`)?.dataset.thing;
  for (const side of all(`.shots[data-thing="${thing}"] [data-side="${value.stage}"]`)) {
    if (side.querySelector(`[data-shot="${id}"]`)) continue;
    const figure = document.createElement("figure");
    figure.dataset.shot = id;
    const image = document.createElement("img");
    image.src = picture.src;
    image.alt = picture.alt;
    const line = document.createElement("figcaption");
    line.className = "caption";
    line.textContent = words.sides[value.stage];
    figure.append(image, line);
    side.append(figure);
  }
}

export function addPhoto(item) {
  const { id, entry: { value }, photo } = item;
  if (row(id)) return;
  const made = document.getElementById("photo-row").content.firstElementChild.cloneNode(true);
  Object.assign(made.dataset, { entry: id, key: value.reading_key ?? "", stage: value.stage ?? "", at: value.taken_at });
  const image = made.querySelector("img");
  image.src = photo ? URL.createObjectURL(photo) : `/photos/${value.sha256}?small=yes`;
  image.alt = fill(words.photo_at, { clock: clockOf(value.taken_at) });
  made.picture = photo;
  made.querySelector(".caption").append(image.alt, " ", keptMark());
  made.querySelector(".kept").dataset.kept = photo ? "phone" : "van";
  document.getElementById("photos").append(made);
  tellPlace(item);
  tellCutShort(item);
  if (value.step) addShot(item, image);
}

// What the van looked at and is no picture leaves no frame behind, and no step that it alone answered.
export async function dropPhoto({ id, answers }) {
  for (const each of all(`#photos li[data-entry="${id}"], [data-shot="${id}"]`)) each.remove();
  for (const field of all(".field")) {
    if (field.shown === id) { field.shown = ""; field.querySelector(".pictures")?.replaceChildren(); }
    if (field.dataset.photo !== id) continue;
    delete field.dataset.photo;
    if (field.last) { await keep(field, true); changed(); } else taking.delete(field);
  }
  remembered.drop(`photo.${id}`);
  const task = answers && document.getElementById(`task-${answers}`);
  if (task?.dataset.done === "done") task.querySelector('.answers [data-answer][aria-pressed="true"]')?.click();
  await queue.remove(id);
}

// A picture that breaks off waits on this phone till somebody says whether it is wanted all the same.
export function askAbout({ id, refused }) {
  for (const place of [row(id), ...all(".field .pictures")]) {
    const isHere = place && (place === row(id) || place.closest(".field").shown === id);
    if (!isHere || place.querySelector(".cut-short")) continue;
    const asked = document.createElement("div");
    asked.className = "cut-short";
    asked.dataset.photo = id;
    const said = document.createElement("p");
    said.className = "doubt";
    said.setAttribute("role", "alert");
    said.textContent = refused;
    asked.append(said, answer("photo_keep", "kept"), answer("photo_drop", "dropped"));
    place.append(asked);
  }
}

function answer(word, says) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "second-action";
  button.dataset.cutShort = says;
  button.textContent = words[word];
  return button;
}

async function answered(button) {
  const { photo: id } = button.closest(".cut-short").dataset;
  for (const each of all(`.cut-short[data-photo="${id}"]`)) each.remove();
  say("");
  const { refused, isCutShort, ...item } = (await queue.one(id)) ?? {};
  if (!item.id) return; // answered on another page of this phone
  if (button.dataset.cutShort === "dropped") { await dropPhoto(item); return; }
  item.entry.value.cut_short = true;
  await queue.put(item);
  tellCutShort(item);
}

export function tellCutShort({ id, entry: { value } }) {
  const caption = row(id)?.querySelector(".caption");
  if (!value?.cut_short || !caption || caption.querySelector(".breaks-off")) return;
  const line = document.createElement("span");
  line.className = "breaks-off";
  line.textContent = words.photo_cut_short;
  caption.append(document.createElement("br"), line);
}

// Where it was taken, once the van has read that off the picture; it says so only where this phone wants it kept.
export function tellPlace({ id, entry: { value } }) {
  const caption = row(id)?.querySelector(".caption");
  if (!value?.place || !caption || caption.querySelector(".where")) return;
  const line = document.createElement("span");
  line.className = "where";
  line.textContent = fill(words.photo_where, { typed: value.place });
  caption.append(document.createElement("br"), line);
}

const row = (id) => document.querySelector(`#photos li[data-entry="${id}"]`);

// Each picture that is known stands at its field again; one whose number nobody has typed yet, too.
export function restorePhotos() {
  for (const field of all(".field")) {
    const known = field.dataset.photo && row(field.dataset.photo);
    if (known) showShot(field, known);
  }
  for (const each of all("#photos li[data-key]")) {
    if (!each.dataset.key || document.querySelector(`.field[data-photo="${each.dataset.entry}"]`)) continue;
    const here = document.getElementById(remembered.get(`photo.${each.dataset.entry}`) ?? "")
      ?? all(`.field[data-key="${each.dataset.key}"][data-stage="${each.dataset.stage}"]`).find((field) => !field.last);
    if (here && !here.last) claim(here, each);
  }
}

// A number that was read off one photograph is not of another: it keeps its own till it is read anew.
const isOffAPhoto = (field) => Boolean(field.last && field.dataset.basis);

function claim(field, photo) {
  if (!isOffAPhoto(field)) field.dataset.photo = photo.dataset.entry;
  if (!field.last && !taking.has(field)) taking.set(field, photo.dataset.at);
  showShot(field, photo);
}

function showShot(field, photo) {
  field.shown = photo.dataset.entry;
  const image = photo.querySelector("img");
  const shot = document.createElement("button");
  shot.type = "button";
  shot.className = "shot";
  shot.setAttribute("aria-expanded", "false");
  const small = document.createElement("img");
  small.src = image.src.split("?")[0]; // a number or a spot is read off the whole picture
  small.alt = image.alt;
  const line = document.createElement("span");
  line.className = "caption waits";
  line.textContent = words.photo_waits;
  shot.append(small, line);
  const pictures = field.querySelector(".pictures");
  pictures?.replaceChildren(shot);
  if (pictures && field.dataset.key === "smoke_number") offerSpot(pictures, photo.picture ?? small.src);
}

document.addEventListener("click", ({ target }) => {
  if (target.matches("[data-cut-short]")) answered(target);
  const shot = target.closest(".shot");
  if (shot) shot.setAttribute("aria-expanded", String(shot.getAttribute("aria-expanded") !== "true"));
});
