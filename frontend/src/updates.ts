/** The page's side of the service worker: registers it, looks for a new build, lets it take over at a safe point. */

import { scriptUrl } from "./parts/trusted";

const LOOK_EVERY_MS = 60 * 60 * 1000;
/** A build that takes over later than this after it was asked is shown at the next opening, not under a hand. */
const SOON_MS = 5_000;

/**
 * Starts the service worker. A new build waits until `isSafe()` answers true (no draft, nothing being saved)
 * and the page is out of sight or has just been opened; then it takes over and the page loads anew.
 * Does nothing where the browser has no service worker (no secure address).
 */
export async function watchForUpdates(isSafe: () => Promise<boolean>): Promise<void> {
  if (!("serviceWorker" in navigator)) return;
  const workers = navigator.serviceWorker;
  const registration = await workers.register(scriptUrl("/sw.js"), { updateViaCache: "none" });

  void letWaitingIn(registration, isSafe);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") void lookForNew(registration);
    else void letWaitingIn(registration, async () => (await isSafe()) && document.visibilityState !== "visible");
  });
  setInterval(() => void lookForNew(registration), LOOK_EVERY_MS);
}

/** The answer may take a while, at the opening above all; by then another window may have let the build in. */
async function letWaitingIn(registration: ServiceWorkerRegistration, isSafe: () => Promise<boolean>): Promise<void> {
  const { waiting } = registration;
  if (waiting === null || !(await isSafe()) || registration.waiting !== waiting) return;
  const asked = performance.now();
  const changed = async (): Promise<void> => {
    // A browser may wait minutes until the old build has nothing under way: by then somebody may be at work.
    const late = document.visibilityState === "visible" && performance.now() - asked > SOON_MS;
    if (!late && (await isSafe())) location.reload();
  };
  navigator.serviceWorker.addEventListener("controllerchange", () => void changed(), { once: true });
  waiting.postMessage("take-over");
}

/** Installed tablets do not look by themselves. No network is no news. */
async function lookForNew(registration: ServiceWorkerRegistration): Promise<void> {
  await registration.update().catch(() => undefined);
}
