// How long the heater has run; told again every few seconds.
const MINUTE_MS = 60000;

export function followClocks(visit, words) {
  let steadyTold = false;
  const tell = () => {
    const flame = Date.parse(visit.dataset.flame);
    if (Number.isNaN(flame)) return;
    const minutes = Math.floor((Date.now() - flame) / MINUTE_MS);
    if (minutes < 0 || minutes > 24 * 60) return;
    for (const each of document.querySelectorAll("[data-running]")) {
      each.textContent = each.dataset.running.replace("#", String(minutes));
    }
    if (!steadyTold && minutes === words.steady_minutes) {
      steadyTold = true;
      navigator.vibrate?.([200, 100, 200]);
    }
  };
  tell();
  setInterval(tell, 5000);
}
