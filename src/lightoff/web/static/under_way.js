// The page asks now and then whether what it stands for is there, moves its bar, and gives way to it: nothing is
// loaded anew under a reader's eyes before that.
const bar = document.getElementById("far");
const words = document.querySelector("[data-so-far]");
const PAUSE_MS = 1500;

async function look() {
  let answer = null;
  try { answer = await fetch(location.href, { headers: { accept: "text/html" } }); } catch { /* the server is away */ }
  if (answer && answer.status !== 202) { location.reload(); return; }
  if (answer) {
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const now = page.getElementById("far");
    if (now) { bar.value = now.value; words.textContent = page.querySelector("[data-so-far]").textContent; }
  }
  setTimeout(look, PAUSE_MS);
}
setTimeout(look, PAUSE_MS);
