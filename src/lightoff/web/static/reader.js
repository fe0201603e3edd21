// What every page asks of the browser: the clock of the place, a copy of the page, and that nothing typed is lost.
import { Queue } from "./queue.js";
import { bringBackTyped, rememberTyped } from "./typed_form.js";
import { giveWay, keepThisPage, keptAt, vanAnswers } from "./van.js";

const zone = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
if (zone && !document.cookie.includes(`lightoff_zone=${encodeURIComponent(zone)}`)) {
  document.cookie = `lightoff_zone=${encodeURIComponent(zone)}; path=/; max-age=34560000; samesite=lax`;
}

if (navigator.serviceWorker) {
  navigator.serviceWorker.register("/worker.js").catch(() => { /* refused: the page works without */ });
  keepThisPage().then((kept) => { document.documentElement.dataset.kept = kept ? "yes" : "no"; });
}
if (keptAt || document.body.dataset.away) giveWay();
// What a card left on this phone goes on its way from any page; the card sends for itself.
if (!document.getElementById("visit")) new Queue().open().then((queue) => queue.flush());

bringBackTyped();
// A form is sent only to a van that answers; what was typed stays where it is.
const trouble = document.getElementById("van-away");
document.addEventListener("submit", async (event) => {
  const { target: form, submitter } = event;
  if (event.defaultPrevented || form.method !== "post" || form.dataset.sure) return;
  event.preventDefault();
  if (await vanAnswers()) {
    rememberTyped(form);
    form.dataset.sure = "yes";
    form.requestSubmit(submitter);
    delete form.dataset.sure;
    return;
  }
  tell(submitter ?? form);
});
function tell(beside) {
  beside.before(trouble);
  trouble.hidden = false;
}
// A search without the van finds nothing, which is not the same as that there is nothing.
document.addEventListener("htmx:sendError", ({ target }) => tell(document.querySelector("#found") ?? target));
document.addEventListener("htmx:afterRequest", ({ detail }) => { if (detail.successful) trouble.hidden = true; });
