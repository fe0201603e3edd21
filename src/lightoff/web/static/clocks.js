// How long the heater has run since it last lit; told again every few seconds, and at once when a moment is entered.
const MINUTE_MS = 60000;
const ENDS_A_FIRING = ["flame out", "opened"]; // nobody opens a burner that is alight

export function followClocks(words) {
  let steadyOf = 0;
  const tell = () => {
    const flame = litSince();
    const minutes = Math.floor((Date.now() - flame) / MINUTE_MS);
    const runs = flame && minutes >= 0 && minutes <= 24 * 60;
    for (const each of document.querySelectorAll("[data-running]")) {
      each.textContent = runs ? each.dataset.running.replace("#", String(minutes)) : "";
    }
    if (runs && steadyOf !== flame && minutes === words.steady_minutes) {
      steadyOf = flame;
      navigator.vibrate?.([200, 100, 200]);
    }
  };
  tell();
  document.addEventListener("moment", () => setTimeout(tell)); // once it stands on the card
  setInterval(tell, 5000);
}

// When the last flame came, or 0 if it went out since.
function litSince() {
  const last = (kinds) => Math.max(0, ...[...document.querySelectorAll("li[data-kind]")].filter((each) => kinds.includes(each.dataset.kind)).map((each) => Date.parse(each.dataset.at)));
  const flame = last(["flame"]);
  return flame > last(ENDS_A_FIRING) ? flame : 0;
}
