// Photo now, number later.
import { newId } from "./identity.js";
import { all, clockOf, entryOf, fill, heater, keptMark, queue, say, words } from "./bay.js";
import { taking } from "./field.js";

const MOST_BYTES = 20e6;

export function watchCamera() {
  document.getElementById("photo").addEventListener("change", taken);
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
  if (file.size > MOST_BYTES) { say(words.photo_large); return; }
  const field = document.querySelector(".step.live .field:focus-within") ?? document.querySelector(".field.last-focus");
  const value = { heater, taken_at: new Date().toISOString(), sha256: "", media_type: file.type || "image/jpeg" };
  if (field) { value.reading_key = field.dataset.key; value.stage = field.dataset.stage; }
  const item = { id: newId(), held: false, slot: "photo", photo: file };
  item.entry = entryOf("photo", value, null, item.id);
  if (field && !field.dataset.taken) { taking.set(field, value.taken_at); field.dataset.photo = item.id; }
  addPhoto(item);
  await queue.put(item);
}

export function addPhoto(item) {
  const row = document.getElementById("photo-row").content.firstElementChild.cloneNode(true);
  row.dataset.entry = item.id;
  const image = row.querySelector("img");
  image.src = URL.createObjectURL(item.photo);
  image.alt = fill(words.photo_at, { clock: clockOf(item.entry.value.taken_at) });
  row.querySelector(".caption").append(image.alt, " ", keptMark());
  row.querySelector(".kept").dataset.kept = "phone";
  document.getElementById("photos").append(row);
}
