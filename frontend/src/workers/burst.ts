/** A burst: of its frames the sharpest is kept open, the others are closed as they come, so two are open at most. */

import { type Cells, frameOf, greyOfPicture, movedBetween } from "./look";
import { measure } from "./sharpness";
import { decode, kept } from "./shrink";
import type { FromBurst, Seen, Shrunk } from "./shrink-messages";

/** A still of the camera is taken for the frame where it has at least this much of its sharpness (ours). */
const STILL_FROM = 0.8;

/** The frames of one tap. */
export class Burst {
  #best: { readonly frame: ImageBitmap; readonly sharpness: number } | undefined;
  #cells: Cells | undefined;
  #moved: number[] = [];
  #of = 0;

  /** Looks at a frame; it is closed here, now or when a sharper one comes. */
  add(frame: ImageBitmap): Seen {
    const { measured, cells } = frameOf(greyOfPicture(frame));
    const moved = movedBetween(this.#cells, cells);
    if (this.#of > 0) this.#moved.push(moved);
    this.#cells = cells;
    this.#of += 1;
    if (this.#best === undefined || measured.sharpness > this.#best.sharpness) {
      this.#best?.frame.close();
      this.#best = { frame, sharpness: measured.sharpness };
    } else frame.close();
    return { ...measured, moved };
  }

  /** The photo to keep. Null where no frame came. The burst is over. */
  async end(still: ArrayBuffer | null): Promise<FromBurst | null> {
    const best = this.#best;
    this.#best = undefined;
    if (best === undefined) return null;
    try {
      const larger = still === null ? undefined : await stillOf(still, best.sharpness);
      const photo = larger ?? (await kept(best.frame));
      return { ...photo, of: this.#of, moved: this.#moved.toSorted((a, b) => a - b)[this.#moved.length >> 1] ?? 0 };
    } finally {
      best.frame.close();
    }
  }

  /** Lets go of what is open. */
  drop(): void {
    this.#best?.frame.close();
    this.#best = undefined;
  }
}

/** The still as it is kept; nothing where it cannot be opened, or was shaken while the frames were not. */
async function stillOf(bytes: ArrayBuffer, frames: number): Promise<Shrunk | undefined> {
  let bitmap: ImageBitmap;
  try {
    bitmap = await decode(bytes);
  } catch {
    return undefined;
  }
  try {
    const { sharpness } = measure(greyOfPicture(bitmap));
    return sharpness >= STILL_FROM * frames ? await kept(bitmap) : undefined;
  } finally {
    bitmap.close();
  }
}
