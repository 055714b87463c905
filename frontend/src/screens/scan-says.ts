/**
 * What became of a code: shape, word and colour in the bar, beside the title and never over it, and a sound. It takes
 * no touch and goes by itself; what the code led to stands on the screen below.
 */
import "../parts/words-later";
import { heard } from "../parts/heard.svelte";
import { sound } from "../parts/sounds";
import { say } from "../parts/words";

export type ScanSaid = "scope" | "same" | "person" | "several" | "unknown" | "another" | "no" | "nobody" | "now";

const LED_ON: readonly ScanSaid[] = ["scope", "same", "person", "several", "now"];
const SHOWN_MS = 4_000;
let timer: ReturnType<typeof setTimeout> | undefined;

/** Shown for 4 s and heard once; the next code takes its place. `name`: the scope or the person. */
export function tellScan(what: ScanSaid, name: string): void {
  const ok = LED_ON.includes(what);
  heard.now = { ok, words: what === "same" ? say("meet.same", { scope: name }) : what === "nobody" ? say("lock.badge_first") : say(`heard.${what}`, { name }) };
  sound(ok ? "read" : "refused");
  clearTimeout(timer);
  timer = setTimeout(() => (heard.now = undefined), SHOWN_MS);
}
