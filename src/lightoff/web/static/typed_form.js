// What was typed into a form that did not go through stands again on the page where it was typed.
const KEY = "lightoff_typed"; // of this tab alone, until its next page
const NOT_TYPED = ["hidden", "file", "password", "submit", "button"];
const PICKED = ["radio", "checkbox"];

const boxesOf = (form) => [...form.elements].filter(({ name, type }) => name && !NOT_TYPED.includes(type));
const posted = () => [...document.forms].filter(({ method }) => method === "post");
const here = () => location.pathname + location.search;

export function rememberTyped(form) {
  const typed = boxesOf(form).map(({ name, value, checked = false }) => ({ name, value, checked }));
  keep({ at: here(), form: posted().indexOf(form), typed, refused: false });
}

export function bringBackTyped() {
  const kept = found();
  const way = document.querySelector("[data-typed-again]");
  if (way && kept) {
    way.href = kept.at;
    way.hidden = false;
    way.nextElementSibling.className = "second-action"; // of two ways the one back is the main one
    keep({ ...kept, refused: true });
    return;
  }
  keep(null);
  if (!kept?.refused || kept.at !== here()) return;
  const form = posted()[kept.form];
  for (const box of form ? boxesOf(form) : []) {
    const picked = PICKED.includes(box.type);
    const at = kept.typed.findIndex(({ name, value }) => name === box.name && (!picked || value === box.value));
    if (at < 0) continue;
    const [was] = kept.typed.splice(at, 1); // several boxes may bear one name: each takes its own
    if (picked) box.checked = was.checked;
    else box.value = was.value;
  }
}

// A browser that keeps nothing has nothing to bring back.
function keep(typed) {
  try {
    if (typed) sessionStorage.setItem(KEY, JSON.stringify(typed));
    else sessionStorage.removeItem(KEY);
  } catch { /* see above */ }
}

function found() {
  try {
    return JSON.parse(sessionStorage.getItem(KEY));
  } catch {
    return null;
  }
}
