// The smoke spot read off the photo at its field: a proposal that one tap takes over; the eye decides.
import { words } from "./bay.js";

// `picture` is the file itself while it is on this phone, else its address.
export function offerSpot(pictures, picture) {
  const ask = button(words.spot.read_it);
  const told = document.createElement("p");
  told.className = "caption";
  told.setAttribute("role", "status");
  ask.addEventListener("click", async () => {
    ask.disabled = true;
    pictures.querySelector("[data-body]")?.remove();
    try {
      const { said, take_over: label, body } = await read(picture);
      told.textContent = said.join(" ");
      if (body) {
        const take = button(label);
        take.dataset.body = JSON.stringify(body); // the field's own hands put it in
        pictures.append(take);
      }
    } catch {
      told.textContent = words.spot.away;
    }
    ask.disabled = false;
  });
  pictures.append(ask, told);
}

async function read(picture) {
  const body = picture instanceof Blob ? picture : await (await fetch(picture)).blob();
  const response = await fetch("/photos/smoke-spot", { method: "POST", body, headers: { accept: "application/json" } });
  const answer = await response.json();
  return response.ok ? answer : { said: [answer.problem ?? words.spot.away] };
}

function button(label) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "second-action";
  made.textContent = label;
  return made;
}
