/** What the frames of a live camera add up to: each code told once, a hint when nothing comes. Pure; times in ms. */

import type { ScannedCode } from "../workers/scan-messages";

/** A code out of sight this long may be told again, in milliseconds: the same scope scanned twice on purpose. */
export const OUT_OF_SIGHT_MS = 1_500;

/** Nothing read this long: say how to hold it. A code of bars is read level or upright only, within about 8 degrees. */
export const HINT_AFTER_MS = 2_000;

export type ScanHint = "level_the_code";

export class Sightings {
  readonly #seen = new Map<string, { at: number; told: boolean }>();
  #lastAt: number;

  constructor(startedAt: number) {
    this.#lastAt = startedAt;
  }

  /** The codes of one frame; returns those to tell now. Code 39 has no check sum of its own: it must come twice alike. */
  see(codes: readonly ScannedCode[], at: number): ScannedCode[] {
    if (codes.length > 0) this.#lastAt = at;
    return codes.filter((code) => {
      const key = `${code.symbology} ${code.text}`;
      const before = this.#seen.get(key);
      const inSight = before !== undefined && at - before.at < OUT_OF_SIGHT_MS;
      const told = inSight && before.told;
      const tell = !told && (inSight || code.format !== "Code39");
      this.#seen.set(key, { at, told: told || tell });
      return tell;
    });
  }

  /** What to tell the person at this time. */
  hint(at: number): ScanHint | null {
    return at - this.#lastAt >= HINT_AFTER_MS ? "level_the_code" : null;
  }
}
