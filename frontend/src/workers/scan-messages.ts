/** What page and code-reading worker say to each other. */

/**
 * How hard to look. fast: each camera frame, upright and well printed codes · hard: turned, inverted, small
 * or worn ones · still: a photo, at half size and at full size.
 */
export type Effort = "fast" | "hard" | "still";

/** A corner as parts of the frame's width and height, 0 to 1. */
export type Corner = readonly [x: number, y: number];

/** One code found in a frame. `text` and `symbology` are what `readCode` takes. */
export interface ScannedCode {
  readonly text: string;
  /** AIM identifier, for instance "]d2" for a GS1 Data Matrix. */
  readonly symbology: string;
  readonly format: "DataMatrix" | "QRCode" | "Code128" | "Code39";
  /** "GS1" where the symbol itself says so. */
  readonly contentType: string;
  /** Top left, top right, bottom right, bottom left, as the code lies. */
  readonly corners: readonly [Corner, Corner, Corner, Corner];
}

/** One frame; the picture is transferred and closed by the worker. */
export interface ScanRequest {
  readonly id: number;
  readonly picture: ImageBitmap;
  readonly effort: Effort;
}

/** `failed`: the reader broke on this frame; the next may work. */
export type ScanReply =
  | { readonly id: number; readonly codes: readonly ScannedCode[]; readonly ms: number }
  | { readonly id: number; readonly failed: string };
