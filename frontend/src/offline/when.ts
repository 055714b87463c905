/** When the service worker acts: on install, on activation, on a request, and on one message from the page. */

import { keep, remove, serve } from "./how";
import { answeredBy, BUILD, KEPT, storesToRemove } from "./what";

declare const self: ServiceWorkerGlobalScope;

/** The page says this at a safe point: no draft, no saving. Nothing else makes a new build take over. */
const TAKE_OVER = "take-over";

self.addEventListener("install", (event) => event.waitUntil(keep(BUILD, KEPT)));

self.addEventListener("activate", (event) => event.waitUntil(takeOver()));

async function takeOver(): Promise<void> {
  await remove(storesToRemove(await caches.keys(), BUILD));
  await self.clients.claim();
}

self.addEventListener("fetch", (event) => {
  const path = answeredBy(event.request.method, new URL(event.request.url), self.location.origin, KEPT);
  if (path !== undefined) event.respondWith(serve(BUILD, path, event.request));
});

self.addEventListener("message", (event) => {
  if (event.data === TAKE_OVER) void self.skipWaiting();
});
