/** Takes photos: from the live camera, from the tablet's camera sheet, from a file. The work is done in a worker. */

import { MEASURED_EDGE } from "../workers/sharpness";
import { fitWithin } from "../workers/shrink-fit";
import type { Seen, Shrunk } from "../workers/shrink-messages";
import { largerPhoto } from "./photo-still";
import { PhotoRefused, shrinker } from "./photo-worker";

export { type Camera, CameraRefused, type CameraWhy, openCamera } from "./photo-camera";
export { PhotoRefused, type PhotoWhy } from "./photo-worker";

/** live: the sharpest frame of a burst. sheet: the tablet's own camera app. file: chosen from the tablet. */
export type Took = "live" | "sheet" | "file";

/** A photo ready to be saved, its bytes final: whoever stores them stores these. */
export interface Shot extends Shrunk {
  readonly took: Took;
  /** How many frames it is the sharpest of; not of a file. */
  readonly of?: number;
  /** How far the picture went from frame to frame; see `Seen`. Not of a file. */
  readonly moved?: number;
}

/** Frames of a burst at most, and the time it may take in milliseconds: a hand shakes to and fro in less. */
export const BURST_FRAMES = 8;
export const BURST_MS = 600;
/** Longest wait for the next frame, in milliseconds. A microscope gives 5 a second; one that gives none has stopped. */
const NEXT_FRAME_MS = 250;

/** What the picture the video shows now is measured at; nothing before the first frame. Throws PhotoRefused. */
export async function lookAt(video: HTMLVideoElement): Promise<Seen | undefined> {
  if (!shows(video)) return undefined;
  const { width, height } = fitWithin({ width: video.videoWidth, height: video.videoHeight }, MEASURED_EDGE);
  return shrinker().look(await createImageBitmap(video, { resizeWidth: width, resizeHeight: height, resizeQuality: "medium" }));
}

/**
 * The sharpest of the frames from now on, or a still of higher resolution where the camera gives one in time that is
 * no less sharp. The frames are looked at as they come; two are in memory at most.
 * Throws PhotoRefused: `no_frame` before the first frame, and what the worker refuses.
 */
export async function takeBurst(video: HTMLVideoElement): Promise<Shot> {
  if (!shows(video)) throw new PhotoRefused("no_frame");
  const end = performance.now() + BURST_MS;
  let edge = 0;
  for (let taken = 0; taken < BURST_FRAMES && (taken === 0 || performance.now() < end); taken += 1) {
    if (taken > 0 && !(await nextFrame(video))) break;
    const frame = await createImageBitmap(video).catch(() => undefined); // the camera may be gone by now
    if (frame === undefined) break;
    edge = Math.max(frame.width, frame.height);
    await shrinker().frame(frame, taken === 0);
  }
  if (edge === 0) throw new PhotoRefused("no_frame");
  return { ...(await shrinker().burst(await largerPhoto(video, edge))), took: "live" };
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

function shows(video: HTMLVideoElement): boolean {
  return video.readyState >= HTMLMediaElement.HAVE_CURRENT_DATA && video.videoWidth > 0;
}

/** Resolves to whether another frame came. */
function nextFrame(video: HTMLVideoElement): Promise<boolean> {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, NEXT_FRAME_MS, false);
    const came = (): void => {
      clearTimeout(timer);
      resolve(true);
    };
    // Firefox has it from 132; before, a frame of the screen stands for one of the camera.
    if (typeof video.requestVideoFrameCallback === "function") video.requestVideoFrameCallback(came);
    else setTimeout(came, 40);
  });
}
