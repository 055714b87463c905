/** How sharp and how bright a picture is: the same numbers as the server's `looking/sharpness.py` for the same pixels. */

/** Long edge in pixels of the picture measured. Larger ones are shrunk to it first, smaller ones left. */
export const MEASURED_EDGE = 640;

/** Grey values 0 to 255, row by row. */
export interface Grey {
  readonly width: number;
  readonly height: number;
  readonly values: Uint8Array;
}

/** RGBA to grey by the weights of ITU-R BT.601, in the whole numbers that Pillow uses (fractions of 65536, rounded). */
export function greyOf(rgba: Uint8ClampedArray, width: number, height: number): Grey {
  const values = new Uint8Array(width * height);
  for (let i = 0, at = 0; i < values.length; i += 1, at += 4) {
    values[i] = (rgba[at]! * 19595 + rgba[at + 1]! * 38470 + rgba[at + 2]! * 7471 + 0x8000) >> 16;
  }
  return { width, height, values };
}

/**
 * 100 times the variance of the 4-neighbour Laplacian of the 2x2 moving mean, a whole number; 0 under 4x4.
 *
 * Chosen among six measures for keeping the order of blur at every sensor noise tried. No value of it means "sharp"
 * for every scene: compare frames of one thing, warn, never block.
 */
export function lap2x100({ width, height, values }: Grey): number {
  if (width < 4 || height < 4) return 0;
  const sums = sumsOfFour(values, width, height);
  const row = width - 1;
  let total = 0;
  let squares = 0;
  for (let y = 1; y < height - 2; y += 1) {
    for (let at = y * row + 1, end = y * row + row - 1; at < end; at += 1) {
      const lap = sums[at - row]! + sums[at + row]! + sums[at - 1]! + sums[at + 1]! - 4 * sums[at]!;
      total += lap;
      squares += lap * lap;
    }
  }
  const count = (width - 3) * (height - 3);
  const mean = total / count;
  return Math.floor(((squares / count - mean * mean) / 16) * 100 + 0.5);
}

/** The mean grey, rounded half up; 0 for an empty picture. */
export function meanGrey({ values }: Grey): number {
  if (values.length === 0) return 0;
  let total = 0;
  for (const value of values) total += value;
  return Math.floor(total / values.length + 0.5);
}

/** Four times the moving 2x2 mean, so still whole; one column and one row less than the picture. */
function sumsOfFour(values: Uint8Array, width: number, height: number): Int32Array {
  const sums = new Int32Array((width - 1) * (height - 1));
  let into = 0;
  for (let y = 0; y < height - 1; y += 1) {
    for (let at = y * width, end = at + width - 1; at < end; at += 1) {
      sums[into] = values[at]! + values[at + 1]! + values[at + width]! + values[at + width + 1]!;
      into += 1;
    }
  }
  return sums;
}
