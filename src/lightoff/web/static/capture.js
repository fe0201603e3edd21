// The card: every field keeps itself, and the judgement follows each keystroke.
import { keepAbout, restoreAbout, watchAbout } from "./about.js";
import { all, queue, remembered, say, visit, visitId, words } from "./bay.js";
import { followClocks } from "./clocks.js";
import { doubt, drafts, fit, holdsNext, inputOf, keep, mark, sentenceFor, show, standsBeside, typedIn, watchFields } from "./field.js";
import { preview, watchJudgement } from "./judgement.js";
import { addMoment, dropMoment, goOnAfter, goOnWithTest, watchMoments } from "./moments.js";
import { addPhoto, askAbout, dropPhoto, restorePhotos, tellPlace, watchCamera } from "./photos.js";
import { answeredByEnding, restoreTask, routineDone, tellTasks, watchTasks } from "./tasks.js";
import { watchTimers } from "./timers.js";
import { watchTimes } from "./watch.js";
import { keepThisPage, keptAt, vanAnswers } from "./van.js";

const RENEW_MS = 5000;

watchFields(preview);
watchAbout(preview);
watchMoments(preview);
watchTimes(preview);
watchCamera(preview);
watchTasks(preview);
watchTimers(preview);
watchJudgement();

// Enter and the keypad's "next" go on to the next number.
document.addEventListener("keydown", async (event) => {
  if (event.key !== "Enter" || !event.target.matches(".value input")) return;
  event.preventDefault();
  if (event.repeat || await holdsNext(event.target.closest(".field"))) return;
  const inputs = all(".value input").filter((each) => each.offsetParent);
  inputs[inputs.indexOf(event.target) + 1]?.focus();
});

// ---- where each thing is kept -----------------------------------------------------------------
function refused(field, item, sentence) {
  field.refused = item;
  doubt(field, sentence, { ofTyping: true });
}

queue.addEventListener("kept", ({ detail: { item, where, sentence } }) => {
  if (item.slot?.startsWith("f-")) tellTasks();
  const shown = where === "refused" ? "phone" : where;
  const field = item.slot?.startsWith("f-") ? document.getElementById(item.slot) : null;
  if (field) {
    const current = drafts.get(field)?.id ?? field.dataset.entry;
    // A field that was taken back is kept nowhere, unless a text that is no number stands in it.
    const gone = item.entry.value === null && where === "van";
    if (current === item.id) mark(field, gone ? (typedIn(field) && "phone") : shown);
    if (where === "refused") refused(field, item, sentence);
  }
  if (item.slot === "photo") tellPlace(item);
  if (where === "refused" && item.isNoPicture) dropPhoto(item);
  if (where === "refused" && item.isCutShort) askAbout(item);
  if (item.slot === "about") for (const each of all(".about-kept .kept")) each.dataset.kept = shown;
  for (const each of all(`[data-entry="${item.id}"] .kept`)) if (!each.closest(".field")) each.dataset.kept = shown;
  if (where === "refused" && !field) say(sentence, { inSight: true });
});
let isAway = false;
queue.addEventListener("away", ({ detail }) => { isAway = true; say(detail.sentence || words.away); });
// What was refused stays said: only that the van was away is over.
queue.addEventListener("here", () => { if (isAway) say(""); isAway = false; if (visit.dataset.stale) preview(); isOld = true; renewSoon(); });

// The copy of this card on the phone follows what the van was told.
let isOld = false;
let renewal = 0;
function renewSoon() {
  clearTimeout(renewal);
  renewal = setTimeout(renew, RENEW_MS);
}
function renew() {
  clearTimeout(renewal);
  if (isOld) keepThisPage({ anew: true });
  isOld = false;
}
document.addEventListener("visibilitychange", () => { if (document.hidden) renew(); });

// What an earlier page left on this phone comes back into its field, and what was sent since this one was asked
// for: the van may have drawn it before that arrived. Into a copy also what was sent since it was kept.
const sent = await queue.sentSince(visitId, keptAt || new Date(performance.timeOrigin).toISOString());
for (const item of [...sent, ...(await queue.of(visitId))].sort((a, b) => (a.id < b.id ? -1 : 1))) {
  const where = item.sentAt ? "van" : "phone";
  const field = item.slot?.startsWith("f-") ? document.getElementById(item.slot) : null;
  if (field) {
    const one = field.last;
    if (one?.set_number !== item.entry.value?.set_number && one?.test === item.entry.value?.test && !item.entry.corrects) standsBeside(field, one);
    show(field, item.entry.value);
    field.last = item.entry.value;
    field.dataset.filled = field.last ? "yes" : "";
    field.dataset.entry = item.id;
    field.dataset.taken = item.entry.value?.taken_at ?? "";
    if (item.entry.value?.set_number) field.dataset.set = String(item.entry.value.set_number);
    mark(field, item.entry.value || !item.sentAt ? where : "");
    if (item.refused) refused(field, item, item.refused);
    goOnWithTest(item.entry.value?.test);
  } else if (item.slot === "moment" && item.entry.value) { addMoment(item.entry, where); goOnAfter(item.entry); }
  else if (item.slot === "moment") dropMoment(item.entry.corrects);
  else if (item.slot === "photo" && item.isNoPicture) { say(item.refused); await dropPhoto(item); }
  else if (item.slot === "photo") addPhoto(item);
  else if (item.slot?.startsWith("task-")) restoreTask(item, where);
  else if (item.slot === "about") restoreAbout(item);
  if (item.held) await queue.put({ ...item, held: false });
}
for (const field of all(".field.number")) {
  const raw = remembered.get(`typed.${visitId}.${field.id}`);
  if (!raw || inputOf(field).value) continue;
  inputOf(field).value = raw;
  fit(field);
  mark(field, "phone");
  doubt(field, sentenceFor(raw), { ofTyping: true });
}
restorePhotos();
for (const item of await queue.of(visitId)) if (item.isCutShort) askAbout(item);
tellTasks();
addEventListener("pagehide", () => { for (const field of [...drafts.keys()]) keep(field, true); keepAbout(); });

// The page is left only after all that can be sent was sent.
document.getElementById("close-form")?.addEventListener("submit", async (event) => {
  event.preventDefault();
  if (event.submitter?.dataset.complete !== undefined) {
    document.querySelector('[data-about="service_complete"]').checked = true;
    await answeredByEnding(event.submitter);
    await routineDone();
  }
  for (const field of [...drafts.keys()]) await keep(field, true);
  await keepAbout();
  await queue.flush();
  if (await vanAnswers()) event.target.submit();
  else say(words.away);
});

document.fonts.load("740 42px \"Atkinson Hyperlegible Next\"").then(() => { for (const field of all(".field.number")) fit(field); });
followClocks(words);
queue.flush();
preview();
navigator.wakeLock?.request("screen").catch(() => {});
visit.dataset.ready = "yes";
