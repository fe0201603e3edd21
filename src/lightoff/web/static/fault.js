// Find the fault: one step at a time, kept like every field; the suspects follow.
import { queue, say, visit, visitId, words } from "./bay.js";
import { doubt, drafts, keep, mark, show, watchFields } from "./field.js";
import { post } from "./queue.js";

const PREVIEW_MS = 120;
let asked = null;
let timer = 0;

function preview() {
  clearTimeout(timer);
  timer = setTimeout(ask, PREVIEW_MS);
}

async function ask() {
  asked?.abort();
  asked = new AbortController();
  const entries = (await queue.of(visitId)).filter((each) => !each.refused && !each.photo).map((each) => each.entry);
  try {
    const answer = await post(`/visits/${encodeURIComponent(visitId)}/fault/preview`, entries, asked.signal);
    document.getElementById("sheet").innerHTML = answer.sheet;
    say("");
  } catch (fault) {
    if (fault.name !== "AbortError") say(words.away);
  }
}

// Everything goes to the van before the next step is asked for; out of reach one stays, and nothing is lost.
async function goOn(event) {
  event.preventDefault();
  const to = event.currentTarget.href;
  for (const field of [...drafts.keys()]) await keep(field, true);
  await queue.flush();
  const waiting = (await queue.of(visitId)).filter((each) => !each.refused);
  if (waiting.length) { say(words.away); return; }
  location.assign(to);
}

watchFields(preview);
document.getElementById("go-on").addEventListener("click", goOn);

queue.addEventListener("kept", ({ detail: { item, where, sentence } }) => {
  const field = item.slot?.startsWith("f-") ? document.getElementById(item.slot) : null;
  if (!field) return;
  mark(field, where === "refused" ? "phone" : where);
  if (where === "refused") { field.refused = item; doubt(field, sentence, { ofTyping: true }); }
});
queue.addEventListener("away", ({ detail }) => say(detail.sentence || words.away));
queue.addEventListener("here", () => say(""));

for (const item of await queue.of(visitId)) {
  const field = item.slot?.startsWith("f-") ? document.getElementById(item.slot) : null;
  if (!field) continue;
  show(field, item.entry.value);
  field.last = item.entry.value;
  field.dataset.entry = item.id;
  mark(field, "phone");
  if (item.held) await queue.put({ ...item, held: false });
}
addEventListener("pagehide", () => { for (const field of [...drafts.keys()]) keep(field, true); });
queue.flush();
visit.dataset.ready = "yes";
