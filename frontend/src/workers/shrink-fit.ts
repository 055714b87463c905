/** How large a photo is kept. */

/** Longest edge kept, in pixels: a hairline crack 1 px wide in the camera's 4000 is still two thirds of one. */
export const LONGEST_EDGE = 2560;

export interface Size {
  readonly width: number;
  readonly height: number;
}

/** The size with its long edge at most `edge`, in proportion, never enlarged, never under one pixel. */
export function fitWithin({ width, height }: Size, edge: number): Size {
  const longest = Math.max(width, height);
  if (longest <= edge) return { width, height };
  const scaled = (side: number): number => Math.max(1, Math.round((side * edge) / longest));
  return { width: scaled(width), height: scaled(height) };
}
