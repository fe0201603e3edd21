// The judgement follows each keystroke, and the foot names what helps most.
import { all, clockOf, fill, queue, visit, visitId, words } from "./bay.js";
import { doubt, drafts, typedIn } from "./field.js";
import { post } from "./queue.js";
import { keptAt } from "./van.js";

const PREVIEW_MS = 50;
const wide = matchMedia("(min-width: 1000px)");
let asked = null;
let timer = 0;
let judgedAt = keptAt || new Date().toISOString(); // what stands in the box was judged then

export function preview() {
  clearTimeout(timer);
  timer = setTimeout(askPreview, PREVIEW_MS);
}

async function askPreview() {
  asked?.abort();
  asked = new AbortController();
  const entries = (await queue.of(visitId)).filter((each) => !each.refused && !each.photo).map((each) => each.entry);
  try {
    const answer = await post(`/visits/${encodeURIComponent(visitId)}/preview`, entries, asked.signal);
    showPreview(answer);
  } catch (fault) {
    if (fault.name !== "AbortError") tellStale();
  }
}

// A judgement that could not follow says of when it is; it never stands as that of now.
function tellStale() {
  visit.dataset.stale = "yes";
  for (const line of all("#assessment .as-of")) {
    line.textContent = fill(words.as_of, { at: clockOf(judgedAt) });
    line.hidden = false;
  }
}

function showPreview(answer) {
  delete visit.dataset.stale;
  judgedAt = new Date().toISOString();
  const box = document.getElementById("assessment");
  const open = all("details[open]", box).map(({ className }) => className);
  box.innerHTML = answer.assessment;
  for (const each of all("details", box)) each.open = open.includes(each.className);
  for (const field of all(".field.number")) {
    const scale = field.querySelector(".scale");
    const drawn = answer.scales[field.dataset.slot] ?? "";
    if (scale.dataset.drawn !== drawn) { scale.innerHTML = drawn; scale.dataset.drawn = drawn; }
  }
  for (const field of all(".field")) {
    const said = answer.doubts[drafts.get(field)?.id ?? field.dataset.entry];
    const raw = typedIn(field);
    const aboutTyping = field.querySelector(".doubt")?.dataset.typing; // its own sentence stands there
    if (said || !aboutTyping) doubt(field, said?.sentence ?? "");
    const button = field.querySelector(".insist");
    if (button) { button.hidden = !said?.ask; button.textContent = fill(words.keep_it, { typed: raw }); }
  }
  const next = document.getElementById("next");
  next.href = answer.next.anchor;
  next.dataset.stop = answer.next.stop ? "yes" : "";
  next.querySelector(".next-label").innerHTML = answer.next.label;
  next.querySelector(".next-line").innerHTML = answer.next.line;
}

const aimOf = (address) => document.querySelector(new URL(address, location).hash || "#none");

// What came up since the page was opened stands on it only when it is opened anew.
async function openAnew(address) {
  await queue.flush();
  history.replaceState(null, "", address);
  history.scrollRestoration = "manual"; // it opens there, and not where one was
  location.reload();
}

function goOn(event) {
  const section = aimOf(event.currentTarget.href);
  // The work leads to its first step that nobody answered.
  const target = (section?.id === "step-work" && section.querySelector('[data-task][data-done=""]')) || section;
  event.preventDefault();
  if (!target) return openAnew(event.currentTarget.href);
  goTo(target);
}

// Unfolds what a target lies in, brings it to the middle, and puts the focus where it is answered.
function goTo(target) {
  for (let each = target.parentElement; each; each = each.parentElement) if (each.matches("details")) each.open = true;
  bring(target);
  const first = target.dataset.task === undefined ? "input, select, button, a" : ".answers button";
  const within = target.id === "assessment" ? target : target.querySelector(".choices input:checked") ?? target.querySelector(first);
  (within ?? target.querySelector("summary") ?? target).focus({ preventScroll: true });
}

// Sections out of sight are measured only as they come in sight, and the paragraph may move: it is brought once more.
const FRAMES = 4;
function bring(target, frames = FRAMES) {
  target.scrollIntoView({ block: "center", behavior: "instant" });
  if (frames) requestAnimationFrame(() => bring(target, frames - 1));
}

// From a step to the field of its reading, and from what is still open to its step; the way back leads back.
function follows(event) {
  const link = event.target.closest('a[href^="#f-"], a[href^="#task-"]');
  const target = link && link.id !== "next" && aimOf(link.href);
  if (!target || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  history.pushState(null, "", link.hash);
  goTo(target);
}

// On a phone the paragraph stands under the step where one works. What the hand is on stays where it is.
function moveAssessment(step, anchor = step) {
  const box = document.getElementById("assessment");
  if (wide.matches) { if (box.parentElement !== visit) visit.append(box); return; }
  if (!step || step.lastElementChild === box) return;
  const before = anchor.getBoundingClientRect().top;
  step.append(box);
  scrollBy({ top: anchor.getBoundingClientRect().top - before, behavior: "instant" });
}

// Nothing moves between the finger's coming down and its going up: the tap would land elsewhere.
let isDown = false;
let afterwards = () => {};
function release() {
  isDown = false;
  setTimeout(() => { afterwards(); afterwards = () => {}; });
}

// The line glows beside the row where one works.
function follow({ target }) {
  for (const each of all(".step.live")) each.classList.remove("live");
  const step = target.closest(".step");
  step?.classList.add("live");
  const row = target.closest(".field, .events, .form, .actions");
  if (step && row) {
    const top = row.getBoundingClientRect().top - step.getBoundingClientRect().top;
    step.style.setProperty("--live-top", `${top}px`);
    step.style.setProperty("--live-height", `${Math.min(row.offsetHeight, 190)}px`);
  }
  if (!step || !target.closest(".field")) return;
  if (isDown) afterwards = () => moveAssessment(step, target);
  else moveAssessment(step, target);
}

export function watchJudgement() {
  const next = document.getElementById("next");
  next.addEventListener("click", goOn);
  document.addEventListener("click", follows);
  document.addEventListener("focusin", follow);
  document.addEventListener("pointerdown", () => { isDown = true; });
  for (const each of ["pointerup", "pointercancel"]) document.addEventListener(each, release);
  wide.addEventListener("change", () => moveAssessment(document.querySelector(".step.live")));
  if (!wide.matches) moveAssessment(aimOf(next.href)?.closest(".step"));
}
