/** The page's side of the service worker: registers it, looks for a new build, lets it take over at a safe point. */

import { scriptUrl } from "./parts/trusted";

const LOOK_EVERY_MS = 60 * 60 * 1000;

/**
 * Starts the service worker. A new build waits until `isSafe()` (no draft, nothing being saved)
 * and the page is out of sight or has just been opened; then it takes over and the page loads anew.
 * Does nothing where the browser has no service worker (no secure address).
 */
export async function watchForUpdates(isSafe: () => boolean): Promise<void> {
  if (!("serviceWorker" in navigator)) return;
  const workers = navigator.serviceWorker;
  const registration = await workers.register(scriptUrl("/sw.js"), { updateViaCache: "none" });
  const letIn = (): void => letWaitingIn(registration, isSafe);

  letIn();
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") void lookForNew(registration);
    else letIn();
  });
  setInterval(() => void lookForNew(registration), LOOK_EVERY_MS);
}

function letWaitingIn(registration: ServiceWorkerRegistration, isSafe: () => boolean): void {
  const waiting = registration.waiting;
  if (waiting === null || !isSafe()) return;
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
  waiting.postMessage("take-over");
}

/** Installed tablets do not look by themselves. No network is no news. */
async function lookForNew(registration: ServiceWorkerRegistration): Promise<void> {
  await registration.update().catch(() => undefined);
}
