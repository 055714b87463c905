/** The worker that lays one photo over another: one request, one answer. */
import { align, changes, SIDE } from "./align";
import type { AlignAnswer, AlignRequest } from "./align-messages";
import type { Square } from "./align-warp";
import { greyOf } from "./sharpness";

declare const self: DedicatedWorkerGlobalScope;

self.addEventListener("message", ({ data }: MessageEvent<AlignRequest>) => {
  try {
    const [then, now] = [squareOf(data.then), squareOf(data.now)];
    const answer: AlignAnswer = data.changes === undefined ? { id: data.id, aligned: align(then, now) } : { id: data.id, cells: changes(then, now, data.changes) };
    self.postMessage(answer);
  } catch (failure) {
    self.postMessage({ id: data.id, failed: String(failure) } satisfies AlignAnswer);
  }
});

/** The picture whole, its long side as long as the square; closed here. */
function squareOf(bitmap: ImageBitmap): Square {
  const scale = SIDE / Math.max(bitmap.width, bitmap.height);
  const [width, height] = [Math.max(1, Math.round(bitmap.width * scale)), Math.max(1, Math.round(bitmap.height * scale))];
  const [left, top] = [Math.floor((SIDE - width) / 2), Math.floor((SIDE - height) / 2)];
  const canvas = new OffscreenCanvas(SIDE, SIDE);
  const context = canvas.getContext("2d", { willReadFrequently: true });
  if (context === null) throw new Error("no canvas");
  context.imageSmoothingQuality = "high";
  context.drawImage(bitmap, left, top, width, height);
  bitmap.close();
  const { values } = greyOf(context.getImageData(0, 0, SIDE, SIDE).data, SIDE, SIDE);
  const inside = new Uint8Array(SIDE * SIDE);
  for (let y = top; y < top + height; y += 1) inside.fill(1, y * SIDE + left, y * SIDE + left + width);
  return { side: SIDE, values: Float32Array.from(values), inside };
}
