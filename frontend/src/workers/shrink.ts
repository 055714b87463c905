/**
 * Makes of any picture the one that is kept: upright, at most 2560 px long, JPEG, no metadata, hashed after all that.
 *
 * Needs OffscreenCanvas in a worker (Safari 16.4, Chromium 69, Firefox 105); there is no second way for older ones,
 * which cannot run the rest of the app either.
 */

import { greyOfPicture } from "./look";
import { measure } from "./sharpness";
import { LONGEST_EDGE, type Size, fitWithin } from "./shrink-fit";
import type { Shrunk } from "./shrink-messages";
import { withoutMetadata } from "./shrink-strip";

/**
 * JPEG quality, by measurement: the highest step at which none of seven pictures of 12 megapixels went over 0.6 MB at
 * 2560 px (Chromium 156; `tests/bench/photos.py quality`, which measures it again). SSIM against the same canvas at
 * quality 1; "cracks" is SSIM round 60 drawn hairlines, 1 to 3 px wide in the camera's picture, at sensor noise 4.
 *
 *     quality   drawn, noise 1 / 4 / 8   four photographs   SSIM photographs   SSIM cracks
 *     0.75      200 /  227 /  335 kB      252 -  403 kB     0.956 - 0.968      0.949
 *     0.80      238 /  284 /  424         312 -  471        0.958 - 0.970      0.953
 *     0.85      284 /  370 /  561         401 -  571        0.961 - 0.973      0.959
 *     0.90      378 /  543 /  852         569 -  754        0.966 - 0.976      0.965
 *     0.95      620 / 1011 / 1561        1011 - 1279        0.974 - 0.982      0.976
 *
 * The photographs were public samples of 600 to 1411 px, enlarged, with noise 4 laid over; real ones of scopes were not
 * at hand.
 */
export const QUALITY = 0.85;

/** The bytes are no picture this browser can open. */
export class NotAPicture extends Error {
  override readonly name = "NotAPicture";
}

/**
 * The photo to keep, from a file's bytes or from a frame (closed here). Throws NotAPicture.
 * Other failures (no memory for the canvas) pass through as the browser words them.
 */
export async function shrink(picture: ArrayBuffer | ImageBitmap, quality = QUALITY): Promise<Shrunk> {
  const bitmap = picture instanceof ArrayBuffer ? await decode(picture) : picture;
  try {
    return await kept(bitmap, quality);
  } finally {
    bitmap.close();
  }
}

/** The bitmap as it is kept; it stays open. */
export async function kept(bitmap: ImageBitmap, quality = QUALITY): Promise<Shrunk> {
  const canvas = drawn(bitmap, fitWithin(bitmap, LONGEST_EDGE));
  const measured = measure(greyOfPicture(canvas));
  const encoded = await canvas.convertToBlob({ type: "image/jpeg", quality });
  const bytes = withoutMetadata(new Uint8Array(await encoded.arrayBuffer())).buffer;
  const { width, height } = canvas;
  Object.assign(canvas, { width: 0, height: 0 }); // its pixels go at once, not when somebody tidies up
  const sha256 = hex(await crypto.subtle.digest("SHA-256", bytes));
  return { sha256, bytes, type: "image/jpeg", width, height, ...measured };
}

/** The type is left out on purpose: the browser looks at the bytes, so a wrong name does no harm. */
export async function decode(bytes: ArrayBuffer): Promise<ImageBitmap> {
  try {
    return await createImageBitmap(new Blob([bytes]), { imageOrientation: "from-image" });
  } catch (cause) {
    throw new NotAPicture("the bytes are no picture this browser can open", { cause });
  }
}

/** On white, since JPEG has no transparency. */
function drawn(source: ImageBitmap, { width, height }: Size): OffscreenCanvas {
  const canvas = new OffscreenCanvas(width, height);
  const context = canvas.getContext("2d", { alpha: false, colorSpace: "srgb" });
  if (context === null) throw new Error("no canvas of this size");
  context.fillStyle = "white";
  context.fillRect(0, 0, width, height);
  context.imageSmoothingQuality = "high";
  context.drawImage(source, 0, 0, width, height);
  return canvas;
}

function hex(digest: ArrayBuffer): string {
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, "0")).join("");
}
