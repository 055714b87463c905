/** Asks the browser once, at the first save, not to throw this origin's storage away. */
import { putMeta } from "./meta";

let asked = false;

export function askToPersist(): void {
  if (asked) return;
  asked = true;
  const storage = globalThis.navigator?.storage as StorageManager | undefined;
  if (typeof storage?.persist !== "function") return;
  // The answer is shown on the status page; no save waits for it.
  storage.persist().then((granted) => putMeta("persisted", granted)).catch(() => undefined);
}
