/** Takes photos: from the live camera, from the tablet's camera sheet, from a file. Shrinking happens in a worker. */

import type { Shrunk } from "../workers/shrink-messages";
import { largerPhoto } from "./photo-still";
import { PhotoRefused, shrinker } from "./photo-worker";

export { type Camera, CameraRefused, type CameraWhy, openCamera } from "./photo-camera";
export { PhotoRefused, type PhotoWhy } from "./photo-worker";

/** live: a frame of the running camera. sheet: the tablet's own camera app. file: chosen from the tablet. */
export type Took = "live" | "sheet" | "file";

/** A photo ready to be saved, its bytes final: whoever stores them stores these. */
export interface Shot extends Shrunk {
  readonly took: Took;
}

/**
 * The picture the video shows now, or a still of higher resolution where the camera gives one in time.
 * Throws PhotoRefused: `no_frame` before the first frame, and what the worker refuses.
 */
export async function takeFrame(video: HTMLVideoElement): Promise<Shot> {
  if (video.readyState < HTMLMediaElement.HAVE_CURRENT_DATA || video.videoWidth === 0) {
    throw new PhotoRefused("no_frame");
  }
  // The frame is taken first, at the moment of the tap; the still only replaces it when it comes in time.
  const frame = await createImageBitmap(video);
  const still = await largerPhoto(video, Math.max(frame.width, frame.height));
  if (still === null) return { ...(await shrinker().shrink(frame)), took: "live" };
  try {
    const shot = await shrinker().shrink(still);
    frame.close();
    return { ...shot, took: "live" };
  } catch {
    return { ...(await shrinker().shrink(frame)), took: "live" };
  }
}

/**
 * The photo in a file. Call it in the change handler itself: some tablets take a picked file away later, so its bytes
 * are read at once. Throws PhotoRefused: `file_gone`, `file_empty`, and what the worker refuses.
 */
export async function fromFile(file: Blob, took: "sheet" | "file" = "file"): Promise<Shot> {
  const bytes = await file.arrayBuffer().catch(() => {
    throw new PhotoRefused("file_gone");
  });
  if (bytes.byteLength === 0) throw new PhotoRefused("file_empty");
  return { ...(await shrinker().shrink(bytes)), took };
}
