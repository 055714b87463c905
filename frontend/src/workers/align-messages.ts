/** What the page and the aligning worker tell each other. Pictures are handed over and closed there. */
import type { Aligned } from "./align";
import type { Laying } from "./align-warp";

export interface AlignRequest {
  readonly id: number;
  readonly then: ImageBitmap;
  readonly now: ImageBitmap;
  /** With it the answer is where the pictures differ; without, how the one lies over the other. */
  readonly changes?: Laying;
}

export type AlignAnswer =
  | { readonly id: number; readonly aligned: Aligned }
  | { readonly id: number; readonly cells: Uint8Array }
  | { readonly id: number; readonly failed: string };
