// What goes in is offered for the part that is picked: the van's bin first, then what else there is of it. A part
// that is kept while it works becomes the spare, unless somebody says otherwise.
const kind = document.getElementById("kind");
const source = document.getElementById("source");
const cause = document.getElementById("cause"); // of a failure only, and of the part that is picked

let isSaid = false; // what became of the old one
for (const each of document.getElementsByName("fate")) each.addEventListener("change", () => { isSaid = true; });

function sayWhy() {
  const isFailed = [...document.getElementsByName("fate")].some((each) => each.checked && each.value === "failed");
  document.getElementById("of-failure").hidden = !isFailed;
  for (const each of cause.options) {
    each.hidden = each.disabled = Boolean(each.dataset.kind) && each.dataset.kind !== kind.value;
    if (each.disabled && each.selected) cause.options[0].selected = true;
  }
}
for (const each of document.getElementsByName("fate")) each.addEventListener("change", sayWhy);

function follow() {
  const fate = kind.selectedOptions[0]?.dataset.kept === undefined ? "scrapped" : "kept as spare";
  for (const each of document.getElementsByName("fate")) if (!isSaid) each.checked = each.value === fate;
  sayWhy();
  let first = null;
  for (const each of source.options) {
    const fits = !each.dataset.kind || each.dataset.kind.split(" ").includes(kind.value);
    each.hidden = each.disabled = !fits;
    if (fits && each.value.startsWith("bin ")) first ??= each;
  }
  (first ?? source.options[0]).selected = true;
}
if (source) {
  kind.addEventListener("change", follow);
  if (!document.querySelector(".problem[role=alert]")) follow();
}
