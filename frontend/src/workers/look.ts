/** Looks at pictures on the small scale that is measured: sharpness, light, and how far the picture went. */

import { type Grey, greyOf, measure, type Measured, MEASURED_EDGE } from "./sharpness";
import { fitWithin } from "./shrink-fit";

/** One canvas for all frames: a new one for each would be 1.2 MB to throw away, many times a second. */
let canvas: OffscreenCanvas | undefined;

/** The picture's greys, its long edge at most 640 pixels. */
export function greyOfPicture(picture: ImageBitmap | OffscreenCanvas): Grey {
  const { width, height } = fitWithin(picture, MEASURED_EDGE);
  canvas ??= new OffscreenCanvas(width, height);
  if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
  const context = canvas.getContext("2d", { alpha: false, willReadFrequently: true });
  if (context === null) throw new Error("no canvas of this size");
  context.fillStyle = "white";
  context.fillRect(0, 0, width, height);
  context.imageSmoothingQuality = "medium";
  context.drawImage(picture, 0, 0, width, height);
  return greyOf(context.getImageData(0, 0, width, height).data, width, height);
}

/** Means over squares of this many pixels are compared from frame to frame. */
const CELL = 16;

/** The picture in squares of 16 pixels, so coarse that noise and blur do not show. */
export interface Cells {
  readonly width: number;
  readonly height: number;
  readonly values: Float32Array;
}

export function cellsOf({ width: wide, height: high, values }: Grey): Cells {
  const width = Math.floor(wide / CELL);
  const height = Math.floor(high / CELL);
  const cells = new Float32Array(width * height);
  for (let y = 0; y < height * CELL; y += 1) {
    const row = Math.floor(y / CELL) * width;
    for (let x = 0, at = y * wide; x < width * CELL; x += 1, at += 1) cells[row + (x >> 4)]! += values[at]!;
  }
  for (let at = 0; at < cells.length; at += 1) cells[at]! /= CELL * CELL;
  return { width, height, values: cells };
}

/**
 * About how many pixels the picture went between two frames: what changed, divided by how much it changes from square
 * to square. Light that changes as a whole is taken out first. Two pictures of different sizes went nowhere.
 */
export function movedBetween(before: Cells | undefined, now: Cells): number {
  if (before === undefined || before.width !== now.width || before.height !== now.height || now.width < 2) return 0;
  const gain = mean(now.values) / Math.max(1, mean(before.values));
  let changed = 0;
  let steps = 0;
  for (let at = 0; at < now.values.length; at += 1) {
    changed += Math.abs(now.values[at]! - gain * before.values[at]!);
    const column = at % now.width;
    if (column > 0) steps += Math.abs(now.values[at]! - now.values[at - 1]!);
  }
  return Math.min(99, Math.round((10 * CELL * changed) / Math.max(steps, now.values.length)) / 10);
}

function mean(values: Float32Array): number {
  let total = 0;
  for (const value of values) total += value;
  return total / Math.max(1, values.length);
}

export type { Measured };
export { measure };
