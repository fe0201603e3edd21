// Keeps the list, heaters and cards that were opened here, so that they open again while the van is away.
// The van is always asked first. A kept copy says that it is one, and as of when; its judgement says so too.
const PAGES = "lightoff-pages";
const FILES = "lightoff-files"; // static files under their hash, and pictures: they never change
const AWAY = "/away";
const READER = "/reader"; // no page: how this person reads, for copies that were made before it was changed
const WAIT_MS = 3000; // then a kept copy is shown
const PATIENT_MS = 20000; // where somebody asked for the page anew
const FRESH_MS = 10000;
const MOST_PAGES = 60;
const MOST_PHOTOS = 60;
const KEPT_PAGES = /^\/(?:|heaters\/(?!new$)[^/]+|visits\/[^/.]+(?:\/fault|\/telephone)?)$/;
const STATIC = /^\/static\/([0-9a-f]{12})\//;
const GATEWAYS = [502, 503, 504]; // somebody else answers that the van does not

addEventListener("install", (event) => event.waitUntil(keepPage(AWAY).then(() => skipWaiting())));
addEventListener("activate", (event) => event.waitUntil(clients.claim()));

addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (url.origin !== location.origin) return;
  if (event.request.mode === "navigate") event.respondWith(opened(event, url));
  else if (event.request.method === "GET" && (STATIC.test(url.pathname) || url.pathname.startsWith("/photos/"))) {
    event.respondWith(unchanging(event.request));
  }
});

// A page tells what it wants kept: { keep: address, anew }; the answer is whether it lies on this phone.
addEventListener("message", (event) => {
  const { keep: address, anew, reader } = event.data ?? {};
  if (!address) return;
  event.waitUntil((async () => {
    await (await caches.open(PAGES)).put(READER, new Response(JSON.stringify(reader ?? {})));
    const url = new URL(address, location.href);
    let kept = isKept(url);
    try {
      if (kept && (anew || !(await isFresh(url)))) await keepPage(url.pathname);
    } catch {
      kept = Boolean(await match(url));
    }
    event.ports[0]?.postMessage({ kept });
  })());
});

const now = () => new Date().toISOString();
const isKept = ({ pathname, search }) => !search && KEPT_PAGES.test(pathname);
const match = async ({ pathname }) => (await caches.open(PAGES)).match(pathname);
const isFresh = async (url) => Date.now() - Date.parse((await match(url))?.headers.get("x-kept-at") ?? "") < FRESH_MS;

// ---- pages --------------------------------------------------------------------------------------
async function opened(event, url) {
  const { request } = event;
  const isPage = request.method === "GET";
  const kept = isPage && isKept(url) ? await match(url) : undefined;
  const patient = ["reload", "no-cache", "no-store"].includes(request.cache);
  try {
    const askedAt = now();
    const network = fetch(request);
    if (isPage && isKept(url)) event.waitUntil(network.then((answer) => put(url.pathname, answer.clone(), askedAt)).catch(() => {}));
    const answer = await (kept ? within(network, patient ? PATIENT_MS : WAIT_MS) : network);
    if (GATEWAYS.includes(answer.status)) throw new Error("away");
    return answer;
  } catch {
    return kept ? marked(kept) : awayPage();
  }
}

function within(promise, most) {
  return Promise.race([promise, new Promise((_, fail) => { setTimeout(() => fail(new Error("late")), most); })]);
}

async function keepPage(path) {
  const askedAt = now();
  await put(path, await fetch(path, { credentials: "same-origin", headers: { accept: "text/html" }, cache: "no-store" }), askedAt);
}

// A copy is as of when it was asked for: the van may have drawn it before what was sent meanwhile arrived.
async function put(path, answer, askedAt) {
  if (answer.status !== 200 || answer.redirected || !answer.headers.get("content-type")?.startsWith("text/html")) return;
  const html = await answer.text();
  const headers = { "content-type": "text/html; charset=utf-8", "x-kept-at": askedAt };
  for (const name of ["content-security-policy", "referrer-policy", "x-content-type-options", "x-frame-options"]) {
    if (answer.headers.has(name)) headers[name] = answer.headers.get(name);
  }
  const title = plain(/<title>([^<]*)<\/title>/.exec(html)?.[1] ?? "");
  headers["x-title"] = encodeURIComponent(title);
  headers["x-issue"] = /\/static\/([0-9a-f]{12})\//.exec(html)?.[1] ?? "";
  await (await caches.open(PAGES)).put(path, new Response(html, { headers }));
  await Promise.all([...new Set(html.match(/\/static\/[0-9a-f]{12}\/[^"'?#\s]+/g) ?? [])].map(keepFile));
  await prune();
  if (path !== AWAY && (await match({ pathname: AWAY }))?.headers.get("x-issue") !== headers["x-issue"]) await keepPage(AWAY);
}

// A worker has no parser of HTML: what the page's own writer escapes is read back here, in one pass.
function plain(text) {
  const named = { lt: "<", gt: ">", quot: '"', amp: "&" };
  return text.replace(/&(?:#(\d+)|(lt|gt|quot|amp));/g, (_, code, name) => (name ? named[name] : String.fromCodePoint(code)));
}

// The copy, with everything shown that speaks of a copy.
async function marked(kept) {
  const at = kept.headers.get("x-kept-at");
  const html = (await dressed(kept))
    .replace("<html ", `<html data-kept-at="${at}" `)
    .replaceAll("hidden data-of-a-copy", "data-of-a-copy")
    .replaceAll("[kept-at]", clock(new Date(at)));
  return new Response(html, { headers: kept.headers });
}

// In the appearance that is wanted now: no bright page in a dark bay.
async function dressed(kept) {
  const { appearance, gloves } = (await (await (await caches.open(PAGES)).match(READER))?.json()) ?? {};
  let html = await kept.text();
  if (appearance) html = html.replace(/data-appearance="\w+"/, `data-appearance="${appearance}"`);
  if (gloves) html = html.replace(/data-gloves="\w+"/, `data-gloves="${gloves}"`);
  return html;
}

function clock(at) {
  const time = at.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  if (at.toDateString() === new Date().toDateString()) return time;
  return `${at.toLocaleDateString("en-GB", { day: "numeric", month: "long" })}, ${time}`;
}

async function awayPage() {
  const kept = await (await caches.open(PAGES)).match(AWAY);
  if (!kept) return Response.error();
  return new Response(await dressed(kept), { status: 503, headers: kept.headers });
}

// ---- files --------------------------------------------------------------------------------------
async function unchanging(request) {
  const found = await (await caches.open(FILES)).match(request.url);
  if (found) return found;
  const answer = await fetch(request);
  if (answer.status === 200) await (await caches.open(FILES)).put(request.url, answer.clone());
  return answer;
}

// A file and all that it names: what a style sheet draws with, what a module imports.
async function keepFile(address) {
  const cache = await caches.open(FILES);
  const url = new URL(address, location.href);
  if (await cache.match(url.href)) return;
  const answer = await fetch(url);
  if (answer.status !== 200) return;
  await cache.put(url.href, answer.clone());
  if (!/\.(?:css|js)$/.test(url.pathname)) return;
  const text = await answer.text();
  const named = [...text.matchAll(/url\("([^"]+)"\)|(?:from|import) "(\.[^"]+)"/g)].map((found) => found[1] ?? found[2]);
  await Promise.all(named.map((each) => keepFile(new URL(each, url).href)));
}

async function prune() {
  const pages = await caches.open(PAGES);
  const keys = (await pages.keys()).filter(({ url }) => new URL(url).pathname !== READER);
  const all = await Promise.all(keys.map(async (key) => ({ key, kept: await pages.match(key) })));
  all.sort((a, b) => (a.kept.headers.get("x-kept-at") < b.kept.headers.get("x-kept-at") ? 1 : -1));
  const gone = all.filter(({ key }) => new URL(key.url).pathname !== AWAY).slice(MOST_PAGES);
  await Promise.all(gone.map(({ key }) => pages.delete(key)));
  const issues = new Set(all.filter((each) => !gone.includes(each)).map(({ kept }) => kept.headers.get("x-issue")));
  const files = await caches.open(FILES);
  const held = await files.keys();
  const old = held.filter(({ url }) => { const of = STATIC.exec(new URL(url).pathname); return of && !issues.has(of[1]); });
  const photos = held.filter(({ url }) => new URL(url).pathname.startsWith("/photos/"));
  await Promise.all([...old, ...photos.slice(0, Math.max(0, photos.length - MOST_PHOTOS))].map((key) => files.delete(key)));
}
