/** What page and shrinking worker say to each other. */

import type { Measured } from "./sharpness";
import type { Tiles } from "./tiles";

/** A photo as it is kept, with what was measured of it. */
export interface Shrunk extends Measured {
  /** Lower-case hex of `bytes` as they are. */
  readonly sha256: string;
  readonly bytes: ArrayBuffer;
  readonly type: "image/jpeg";
  /** Pixels, upright. */
  readonly width: number;
  readonly height: number;
}

/** What is seen of one frame: as `Measured`, and how far the picture went since the frame before. */
export interface Seen extends Measured {
  /** Pixels of the measured picture since the last frame that was looked at; 0 for the first. */
  readonly moved: number;
  /** Where in it detail shows; not of a frame of a burst. */
  readonly tiles?: Tiles;
}

/** What a burst left: the sharpest of `of` frames. */
export interface FromBurst extends Shrunk {
  readonly of: number;
  /** How far the picture went from frame to frame, the middle of all; see `Seen`. */
  readonly moved: number;
}

/** One picture to shrink; it is transferred, not copied. */
export interface ShrinkRequest {
  readonly id: number;
  readonly picture: ArrayBuffer | ImageBitmap;
}

/** A frame to measure only. */
export interface LookRequest {
  readonly id: number;
  readonly look: ImageBitmap;
}

/** A frame of the burst under way: the sharpest stays with the worker, the others are let go. */
export interface FrameRequest {
  readonly id: number;
  readonly frame: ImageBitmap;
  /** The first frame of a burst; what is left of an older one is let go. */
  readonly first: boolean;
}

/** The end of the burst: its sharpest frame is shrunk, or the still, where that is no less sharp. */
export interface BurstRequest {
  readonly id: number;
  readonly still: ArrayBuffer | null;
}

export type Request = ShrinkRequest | LookRequest | FrameRequest | BurstRequest;

/** not_a_picture: the browser cannot open it. no_room: it can, and ran out of memory or canvas. */
export type ShrinkRefusal = "not_a_picture" | "no_room";

export type ShrinkAnswer =
  | { readonly id: number; readonly shrunk: Shrunk | FromBurst }
  | { readonly id: number; readonly seen: Seen }
  | { readonly id: number; readonly refused: ShrinkRefusal };
