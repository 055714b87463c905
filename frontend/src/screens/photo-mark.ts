/** The mark a photo carries into its entry: how it was taken, and what was told of it. */
import type { Shot } from "../capture/photo";
import type { Sharpness, SharpWatch } from "../capture/photo-sharp";
import type { Taken } from "../record/kinds";

/** What is told of a photo that was taken. */
export interface Told {
  readonly taken: Taken;
  /** Undefined where there is nothing to compare it with and nothing against it. */
  readonly tells: Sharpness | undefined;
}

/** `at` in milliseconds of the clock that `watch` was told its frames by. */
export function markOf(shot: Shot, watch: SharpWatch, at: number): Told {
  const live = shot.took === "live";
  const share = live ? watch.share(shot, at) : null;
  // A picture from elsewhere has no camera here to be held against: only its light is told.
  const told = watch.against(shot, at).filter((each) => live || (each !== "not_sharp" && each !== "moved" && each !== "fogged" && each !== "soft_spot"));
  return {
    taken: {
      way: shot.took, told,
      ...(share === null ? {} : { sharp_permille: Math.round(share * 1000) }),
      ...(shot.of === undefined ? {} : { of: shot.of }),
    },
    tells: told[0] ?? (live && share !== null ? "sharp" : undefined),
  };
}
