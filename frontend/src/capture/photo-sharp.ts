/**
 * What is told of a picture before it is kept: sharp or not, moved, too dark, washed out, glare, haze, a spot that stays soft.
 * It is held against what this camera has shown, of anything, and a moment ago; it is told and never blocks.
 */
import type { Against, Tells as Sharpness } from "../parts/types";
import type { Measured } from "../workers/sharpness";
import type { Seen } from "../workers/shrink-messages";
import { type Memory, noMemory } from "./photo-memory";
import { Spots } from "./photo-spots";

export type { Against, Tells as Sharpness } from "../parts/types";

/** Frames older than this no longer count as the best of a moment ago. */
export const BEST_OF_MS = 3_000;
/** Thousandths at which nothing is left of the detail; see `Measured.crisp`. */
export const NO_DETAIL = 250;
/**
 * From here on a picture is sharp whatever else the camera has shown: of 17 photographs 640 px wide and sharp, all but
 * one (a microscope's, soft in itself) were above it, of those blurred by 2 px none (tests/backend/test_sharpness.py).
 */
export const SHARP_AT = 400;
/** Share of the best that counts as sharp, both counted from `NO_DETAIL`. */
export const SHARP_FROM = 0.5;
/** The crisp that is the whole of what is asked for: more detail than this is the scene's, not the camera's. */
const WHOLE = NO_DETAIL + (SHARP_AT - NO_DETAIL) / SHARP_FROM;
/** Mean grey, 0 to 255, below which it is too dark to tell, above which it is washed out (ours, not measured on tablets). */
export const DARK_BELOW = 30;
export const WASHED_FROM = 215;
/** Thousandths of the tiles in glare from which it is told; from the second on it is the picture that is washed out. */
export const GLARE_FROM = 20;
export const WASHED_TILES = 400;
/** Pixels of the measured picture from frame to frame from which the hand, not the focus, is named (ours). */
export const MOVED_FROM = 3;
/**
 * A fogged lens lays light over everything: the darkest grey is `veil` thousandths of the brightest or more, whatever the
 * gain, and `more` above what this camera usually shows; for `ms`, begun without motion. Blur takes contrast too, so what
 * is not sharp must be `soft` or more. Under `low` it is the scene that is dark and even. Measured on photographs under
 * veils of known strength: tests/vectors/test_lens.py. A drop is another thing: photo-spots.ts.
 */
export const FOG = { low: 50, veil: 500, soft: 650, more: 200, ms: 1_500 } as const;

/** Where nothing is known of a camera yet, a picture is held against what sharp photographs show: told under `SHARP_AT`. */
export function supposed(memory: Memory): Memory {
  return { note: (crisp, veil) => memory.note(crisp, veil), best: () => memory.best() || WHOLE, veil: () => memory.veil() };
}

/** What this camera shows: the frames of the last seconds, and the best of all time it remembers. */
export class SharpWatch {
  readonly #memory: Memory;
  readonly #spots: Spots;
  #seen: { readonly at: number; readonly crisp: number }[] = [];
  #fogSince: number | undefined;

  constructor(memory: Memory = noMemory(), spots: Spots = new Spots()) {
    [this.#memory, this.#spots] = [memory, spots];
  }

  /** A live frame. `at` in milliseconds, of any clock that goes on. */
  note(frame: Seen, at: number): void {
    this.#seen = [...this.#seen.filter((each) => at - each.at <= BEST_OF_MS), { at, crisp: frame.crisp }];
    if (frame.crisp > 0) this.#memory.note(frame.crisp, veilOf(frame));
    // Of a picture that is out of focus as a whole nothing can be said of a spot in it.
    if (frame.tiles !== undefined && frame.moved >= MOVED_FROM && frame.crisp >= SHARP_AT) this.#spots.note(frame.tiles, at);
    if (!this.#fogged(frame)) this.#fogSince = undefined;
    else if (frame.moved < MOVED_FROM) this.#fogSince ??= at;
  }

  /** 0 to 1 of what this camera can show; null where there are no edges to tell it by. */
  share({ crisp }: Measured, at: number): number | null {
    if (crisp === 0) return null;
    const lately = this.#seen.filter((each) => at - each.at <= BEST_OF_MS).map((each) => each.crisp);
    const best = Math.min(Math.max(crisp, this.#memory.best(), ...lately), WHOLE);
    return Math.min(1, Math.max(0, (crisp - NO_DETAIL) / Math.max(1, best - NO_DETAIL)));
  }

  /** All that is said against the picture, the gravest first; nothing where it is sharp. */
  against(picture: Measured & { readonly moved?: number }, at: number): Against[] {
    if (picture.mean < DARK_BELOW) return ["too_dark"];
    const told: Against[] = [];
    if (picture.mean >= WASHED_FROM || picture.glare >= WASHED_TILES) told.push("washed_out");
    else if (picture.glare >= GLARE_FROM) told.push("glare");
    if (this.#fogged(picture) && this.#fogSince !== undefined && at - this.#fogSince >= FOG.ms) told.push("fogged");
    if (this.#spots.found) told.push("soft_spot");
    const share = this.share(picture, at);
    if (share !== null && share < SHARP_FROM) told.push(...(picture.moved !== undefined && picture.moved >= MOVED_FROM ? (["moved"] as const) : []), "not_sharp");
    return told;
  }

  /** The one thing that is said of it. */
  tell(picture: Measured & { readonly moved?: number }, at: number): Sharpness {
    return this.against(picture, at)[0] ?? "sharp";
  }

  /** Held against what this camera has shown; one that has shown little yet is not said to be fogged. */
  #fogged(picture: Measured): boolean {
    if (this.#memory.best() === 0 || picture.mean < DARK_BELOW || picture.low < FOG.low) return false;
    const least = picture.crisp < SHARP_AT ? FOG.soft : FOG.veil;
    return veilOf(picture) >= Math.max(least, this.#memory.veil() + FOG.more);
  }
}

/** Thousandths that the darkest grey is of the brightest. */
function veilOf({ low, high }: Measured): number {
  return high === 0 ? 0 : Math.floor((1000 * low) / high);
}
