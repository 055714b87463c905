/** What page and shrinking worker say to each other. */

/** A photo as it is kept. */
export interface Shrunk {
  /** Lower-case hex of `bytes` as they are. */
  readonly sha256: string;
  readonly bytes: ArrayBuffer;
  readonly type: "image/jpeg";
  /** Pixels, upright. */
  readonly width: number;
  readonly height: number;
  /** Hundredths of `lap2`; to be compared with photos of the same thing only. */
  readonly sharpness: number;
  /** Mean grey, 0 (black) to 255. */
  readonly mean: number;
}

/** One picture to shrink; both forms are transferred, not copied. */
export interface ShrinkRequest {
  readonly id: number;
  readonly picture: ArrayBuffer | ImageBitmap;
}

/** not_a_picture: the browser cannot open it. no_room: it can, and ran out of memory or canvas. */
export type ShrinkRefusal = "not_a_picture" | "no_room";

export type ShrinkAnswer =
  | { readonly id: number; readonly shrunk: Shrunk }
  | { readonly id: number; readonly refused: ShrinkRefusal };
