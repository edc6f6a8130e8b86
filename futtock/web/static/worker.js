// Keeps the floor's pages that were opened, and shows them again while there is no network.
// It never answers for anything that is entered: entries are kept and sent by the page itself.
"use strict";

const STORE = "futtock-floor", MOST = 80, PATIENCE_MS = 4000;
const FLOOR = /^\/(saw|traveller|bench)(\/[\w-]+)?$/;
const POLICY = "default-src 'none'; style-src 'self'; font-src 'self'; base-uri 'none'; form-action 'none'";
const lasting = (url) => url.searchParams.has("v") || url.pathname.startsWith("/static/vendor/");
const bare = (url) => url.origin + url.pathname;

self.addEventListener("install", () => void self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("message", (event) => {
  const asked = event.data && event.data.keep;
  if (Array.isArray(asked)) event.waitUntil(Promise.allSettled(asked.slice(0, 20).map(keepAsked)));
});

async function keepAsked(asked) {
  const url = new URL(asked, location.origin), store = await caches.open(STORE);
  if (url.origin !== location.origin) return;
  if (lasting(url) && (await store.match(url.href))) return;
  if (!lasting(url) && !FLOOR.test(url.pathname)) return;
  const answer = await fetch(url.href);
  if (answer.ok && answer.status === 200 && !answer.redirected) await put(lasting(url) ? url.href : bare(url), answer);
}

async function put(key, answer) {
  const store = await caches.open(STORE);
  await store.delete(key, { ignoreSearch: true }); // a new version takes the former's place
  await store.put(key, answer); // and what is put again becomes the newest
  const pages = (await store.keys()).filter((r) => FLOOR.test(new URL(r.url).pathname));
  for (const old of pages.slice(0, -MOST)) await store.delete(old);
}

self.addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (request.mode === "navigate" && FLOOR.test(url.pathname)) event.respondWith(page(event, url));
  else if (lasting(url)) event.respondWith(stored(event, url));
});

async function page(event, url) {
  const kept = await caches.match(bare(url), { cacheName: STORE });
  const asked = fetch(event.request, kept ? { signal: AbortSignal.timeout(PATIENCE_MS) } : {});
  try {
    const answer = await asked;
    if (answer.status === 200 && !url.search) event.waitUntil(put(bare(url), answer.clone()));
    return kept && answer.status >= 500 ? kept : answer;
  } catch {
    return kept || none();
  }
}

async function stored(event, url) {
  const kept = await caches.match(url.href, { cacheName: STORE });
  if (kept) return kept;
  const answer = await fetch(event.request);
  if (answer.status === 200) event.waitUntil(put(url.href, answer.clone()));
  return answer;
}

// A page that was never opened on this tablet: those that were are listed.
async function none() {
  const store = await caches.open(STORE), all = (await store.keys()).map((r) => new URL(r.url));
  const sheets = all.filter((u) => u.pathname.endsWith(".css")).map((u) => '<link rel="stylesheet" href="' + u.pathname + u.search.replace(/[^\w=?]/g, "") + '">');
  const rows = all.filter((u) => FLOOR.test(u.pathname)).map((u) => u.pathname).sort().map((p) => '<li><a href="' + p + '">' + p.slice(1).replace("/", " ") + "</a></li>");
  const html = '<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>No network: Futtock</title>' + sheets.join("")
    + '</head><body class="floor"><main class="stack floor-main"><h1>No network, and this page was not opened on this tablet before.</h1><p class="lead">What was entered stays on this tablet and is sent when the network is back. These pages can be opened now:</p><ul class="plain-list kept-pages">'
    + (rows.join("") || "<li>none yet</li>") + "</ul></main></body></html>";
  return new Response(html, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": POLICY } });
}
