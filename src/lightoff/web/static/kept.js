// The list of pages that lie on this phone, where one is asked for.
import { forgetPages, keptPages } from "./van.js";

const list = document.getElementById("kept-pages");
const clock = (at) => new Date(at).toLocaleString("en-GB", { day: "numeric", month: "long", hour: "2-digit", minute: "2-digit" });

async function tell() {
  const pages = await keptPages();
  list.replaceChildren(...pages.map(({ path, title, at }) => {
    const row = document.getElementById("kept-page").content.firstElementChild.cloneNode(true);
    row.querySelector("a").href = path;
    row.querySelector("b").textContent = title;
    row.querySelector(".right").textContent = clock(at);
    return row;
  }));
  for (const each of document.querySelectorAll("[data-if-kept]")) each.hidden = !pages.length;
  for (const each of document.querySelectorAll("[data-if-none]")) each.hidden = pages.length > 0;
}
for (const each of document.querySelectorAll("[data-if-insecure]")) each.hidden = isSecureContext;
document.getElementById("forget-pages")?.addEventListener("click", () => forgetPages().then(tell));
tell();
