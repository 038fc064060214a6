/**
 * The app without a network: its files are held by content version; the office's answers never are. And what waits is sent
 * when the browser wakes the worker, though the app is closed.
 */
import { TAG, sendWhatWaits } from "./sync/send";

declare const VERSION: string;
declare const FILES: string[];

const worker = globalThis as unknown as ServiceWorkerGlobalScope;

const CACHE = `tepal-${VERSION}`;

worker.addEventListener("install", (event) => {
  event.waitUntil(
    caches
      .open(CACHE)
      .then((cache) => cache.addAll(FILES.map((file) => new Request(file, { cache: "reload" }))))
      .then(() => worker.skipWaiting()),
  );
});

worker.addEventListener("activate", (event) => {
  event.waitUntil(
    caches
      .keys()
      .then((names) => Promise.all(names.filter((name) => name !== CACHE).map((name) => caches.delete(name))))
      .then(() => worker.clients.claim()),
  );
});

worker.addEventListener("fetch", (event) => {
  const { request } = event;
  const scope = new URL(worker.registration.scope);
  const url = new URL(request.url);
  // Entries, photos and today are the sync's own business; only the app's files are answered from here.
  if (request.method !== "GET" || url.origin !== scope.origin || !url.pathname.startsWith(scope.pathname)) return;
  const wanted = request.mode === "navigate" ? new Request(scope.href) : request;
  event.respondWith(
    caches.open(CACHE).then(async (cache) => (await cache.match(wanted, { ignoreSearch: true })) ?? fetch(request)),
  );
});

/** Of the Background Sync draft; no part of TypeScript's own library yet. */
interface Woken extends ExtendableEvent {
  tag: string;
}

worker.addEventListener("sync", (event) => {
  const woken = event as Woken;
  if (woken.tag === TAG) woken.waitUntil(sendWhatWaits());
});
