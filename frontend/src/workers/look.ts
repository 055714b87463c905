/** Looks at pictures on the small scale that is measured: sharpness, light, and how far the picture went. */

import { type Tiles, tilesOf } from "./tiles";
import { gauge, type Grey, greyOf, type Measured, MEASURED_EDGE } from "./sharpness";
import { fitWithin } from "./shrink-fit";

/** One canvas for all frames: a new one for each would be 1.2 MB to throw away, many times a second. */
let canvas: OffscreenCanvas | undefined;
/** One row of greys for all frames of a size, for the same reason. */
let greys: Uint8Array = new Uint8Array(0);

/** The picture's greys, its long edge at most 640 pixels; they stand until the next picture is looked at. */
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
  const grey = greyOf(context.getImageData(0, 0, width, height).data, width, height, greys);
  greys = grey.values;
  return grey;
}

/** The orders of colours a frame's own pixels come in that are read here: four bytes a pixel, red first or blue first. */
const ORDERS: Partial<Record<VideoPixelFormat, "red" | "blue">> = { RGBA: "red", RGBX: "red", BGRA: "blue", BGRX: "blue" };
/** One row of pixels for all frames of a size. */
let pixels: Uint8Array<ArrayBuffer> = new Uint8Array(0);

/**
 * As `greyOfPicture`, of an opaque picture. One that is small enough is not drawn first but gives its own pixels, where
 * the browser lets them be read (WebCodecs VideoFrame): measured, a thirtieth of the canvas's way to them.
 */
export async function greyOfFrame(picture: ImageBitmap): Promise<Grey> {
  return (await ownGrey(picture)) ?? greyOfPicture(picture);
}

/** The same without a canvas; nothing where the picture is too large or the browser keeps its pixels back. */
export async function ownGrey(picture: ImageBitmap): Promise<Grey | undefined> {
  const { width, height } = picture;
  if (typeof VideoFrame === "undefined" || Math.max(width, height) > MEASURED_EDGE) return undefined;
  let frame: VideoFrame | undefined;
  try {
    frame = new VideoFrame(picture, { timestamp: 0 });
    const first = frame.format === null ? undefined : ORDERS[frame.format];
    if (first === undefined || frame.allocationSize() !== 4 * width * height) return undefined;
    if (pixels.length !== 4 * width * height) pixels = new Uint8Array(4 * width * height);
    await frame.copyTo(pixels);
    const grey = greyOf(pixels, width, height, greys, first);
    greys = grey.values;
    return grey;
  } catch {
    return undefined; // then it is drawn
  } finally {
    frame?.close();
  }
}

/** Means over squares of this many pixels are compared from frame to frame: of 4 by 4 sums over squares of four. */
const CELL = 16;

/** The picture in squares of 16 pixels, so coarse that noise and blur do not show. */
export interface Cells {
  readonly width: number;
  readonly height: number;
  readonly values: Float32Array;
}

/** What is measured of a frame, its cells, and where in it detail shows. */
export function frameOf(grey: Grey): { readonly measured: Measured; readonly cells: Cells; readonly tiles: Tiles } {
  const { measured, fours } = gauge(grey);
  const [width, height] = [fours.width >> 2, fours.height >> 2];
  const values = new Float32Array(width * height);
  for (let y = 0; y < 4 * height; y += 1) {
    for (let x = 0; x < 4 * width; x += 1) values[(y >> 2) * width + (x >> 2)]! += fours.values[y * fours.width + x]! / (CELL * CELL);
  }
  return { measured, cells: { width, height, values }, tiles: tilesOf(fours) };
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
