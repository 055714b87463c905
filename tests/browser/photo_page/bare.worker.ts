/** The least a worker can do to shrink a photo, as a yardstick: decode, draw, encode. No hash, no measure, no stripping. */

self.onmessage = async ({ data }: MessageEvent<ArrayBuffer>) => {
  const bitmap = await createImageBitmap(new Blob([data]));
  const edge = 2560 / Math.max(bitmap.width, bitmap.height);
  const canvas = new OffscreenCanvas(Math.round(bitmap.width * edge), Math.round(bitmap.height * edge));
  const context = canvas.getContext("2d", { alpha: false });
  context.imageSmoothingQuality = "high";
  context.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  const bytes = await (await canvas.convertToBlob({ type: "image/jpeg", quality: 0.85 })).arrayBuffer();
  self.postMessage(bytes, { transfer: [bytes] });
};
