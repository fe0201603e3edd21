// Whether the van answers, and what of its pages lies on this phone.
const ROOT = document.documentElement;
const ASK_EVERY_MS = 5000;
const ANSWER_MS = 4000;

// When this very page was kept, if it is a copy; blank for a page that just came.
export const keptAt = ROOT.dataset.keptAt ?? "";

export async function vanAnswers() {
  try {
    return (await fetch("/healthz", { cache: "no-store", signal: AbortSignal.timeout(ANSWER_MS) })).ok;
  } catch {
    return false;
  }
}

// Has this page kept; `anew` where it has changed since it came. Only a secure address can keep pages.
export async function keepThisPage({ anew = false } = {}) {
  if (!navigator.serviceWorker || keptAt) return false;
  const { active } = await navigator.serviceWorker.ready;
  const line = new MessageChannel();
  const answer = new Promise((done) => { line.port1.onmessage = ({ data }) => done(data.kept); });
  const { appearance, gloves } = ROOT.dataset;
  active.postMessage({ keep: location.pathname + location.search, anew, reader: { appearance, gloves } }, [line.port2]);
  return answer;
}

const isTyping = () => document.activeElement?.matches("input:not([type=radio], [type=checkbox]), textarea, select") ?? false;

// A copy gives way to the page itself once the van answers, and not in the middle of a word.
export function giveWay() {
  const ask = async () => {
    if (!document.hidden && !isTyping() && (await vanAnswers()) && !isTyping()) location.reload();
  };
  setInterval(ask, ASK_EVERY_MS);
  addEventListener("online", ask);
  document.addEventListener("visibilitychange", ask);
}

// The pages that lie on this phone: title, address, since when; the latest first.
export async function keptPages() {
  if (!globalThis.caches) return [];
  const cache = await caches.open("lightoff-pages");
  const rows = await Promise.all((await cache.keys()).map(async (key) => {
    const { headers } = await cache.match(key);
    return {
      path: new URL(key.url).pathname,
      title: decodeURIComponent(headers.get("x-title") ?? "").replace(/ · lightoff$/, ""),
      at: headers.get("x-kept-at"),
    };
  }));
  return rows.filter(({ path, title }) => title && path !== "/away").sort((a, b) => (a.at < b.at ? 1 : -1));
}

export async function forgetPages() {
  const cache = await caches.open("lightoff-pages");
  const paths = (await keptPages()).map(({ path }) => cache.delete(path));
  await Promise.all([...paths, caches.delete("lightoff-files")]);
}
