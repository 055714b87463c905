/** Reads codes from the live rear camera until it is closed. */

import type { Code } from "../rules/codes";
import { readCode } from "../rules/codes";
import { type Camera, openCamera } from "./photo-camera";
import type { ScanAnswer, ScannedCode, Scanner } from "./scan";
import { scanner } from "./scan";
import { type ScanHint, Sightings } from "./scan-sightings";

export { CameraRefused, type CameraWhy } from "./photo-camera";
export type { ScanHint } from "./scan-sightings";

/** reader_silent: no answer from the code reader, typing still works · camera_ended: the camera was taken away. */
export type CodeCameraTrouble = "reader_silent" | "camera_ended";

export interface CodeCameraEvents {
  /** A code came into sight; told once until it has been out of sight. `found` says where it lies in the frame. */
  onCode(code: Code, found: ScannedCode): void;
  /** Nothing was read for a while, or null when something is read again. */
  onHint?(hint: ScanHint | null): void;
  /** The camera or the reader does not work, or null when it works again. */
  onTrouble?(trouble: CodeCameraTrouble | null): void;
}

export interface CodeCameraOptions {
  /** Leaving the screen; also while the camera is still being opened. */
  readonly signal?: AbortSignal;
  readonly reader?: Scanner;
  readonly media?: Pick<MediaDevices, "getUserMedia">;
  readonly memory?: Pick<Storage, "getItem" | "setItem">;
}

/** An open camera that reads codes. `camera` gives its lamp and zoom where it has them. */
export interface CodeCamera {
  readonly camera: Camera;
  close(): void;
}

/** Long edge in pixels of a frame handed to the reader. */
export const FRAME_EDGE = 1280;

/** Every fourth frame is looked at hard: about 28 ms instead of 7 (measured, 2 cores). */
export const HARD_EACH = 4;

const REMEMBERED = "loupebook.code-camera";

/**
 * Opens the rear camera, the same one as last time, shows it in `video` and reads codes from it.
 *
 * Throws `CameraRefused` with why: denied, none, busy or insecure. Close it when its screen goes.
 */
export async function openCodeCamera(
  video: HTMLVideoElement,
  events: CodeCameraEvents,
  options: CodeCameraOptions = {},
): Promise<CodeCamera> {
  const memory = options.memory ?? localStorage;
  const camera = await openCamera(wanted(memory.getItem(REMEMBERED)), options.media);
  const track = camera.stream.getVideoTracks()[0];
  const deviceId = track?.getSettings().deviceId;
  if (deviceId !== undefined) memory.setItem(REMEMBERED, deviceId);
  video.muted = true;
  video.playsInline = true;
  video.srcObject = camera.stream;
  const stopReading = readFrames(video, options.reader ?? scanner(), events);
  const close = (): void => {
    stopReading();
    camera.close();
    if (video.srcObject === camera.stream) video.srcObject = null;
  };
  track?.addEventListener("ended", () => {
    close();
    events.onTrouble?.("camera_ended");
  });
  options.signal?.addEventListener("abort", close);
  if (options.signal?.aborted === true) close();
  // Refused where the screen has gone meanwhile; the frames say whether it plays.
  else await video.play().catch(() => undefined);
  return { camera, close };
}

function wanted(remembered: string | null): MediaTrackConstraints {
  return {
    facingMode: { ideal: "environment" },
    width: { ideal: FRAME_EDGE },
    height: { ideal: 720 },
    ...(remembered === null ? {} : { deviceId: { ideal: remembered } }),
  };
}

/** Looks at the frames of a playing video until the returned function is called. Also for a stream opened elsewhere. */
export function readFrames(video: HTMLVideoElement, reader: Scanner, events: CodeCameraEvents): () => void {
  const sightings = new Sightings(performance.now());
  const stop = new AbortController();
  let frames = 0;
  let looking = false;
  let hint: ScanHint | null = null;
  let silent = false;

  async function look(): Promise<void> {
    looking = true;
    const picture = await grab(video);
    if (picture !== null && !stop.signal.aborted) {
      frames += 1;
      told(await reader.read(picture, frames % HARD_EACH === 0 ? "hard" : "fast"));
    } else picture?.close();
    looking = false;
  }

  function told(answer: ScanAnswer): void {
    if (stop.signal.aborted) return;
    if (answer.kind === "read" || answer.kind === "silent") tellTrouble(answer.kind === "silent");
    const at = performance.now();
    const found = answer.kind === "read" ? sightings.see(answer.codes, at) : [];
    tellHint(sightings.hint(at));
    for (const code of found) events.onCode(readCode(code.text, code.symbology, new Date().getFullYear()), code);
  }

  function tellTrouble(now: boolean): void {
    if (now !== silent) events.onTrouble?.(now ? "reader_silent" : null);
    silent = now;
  }

  function tellHint(now: ScanHint | null): void {
    if (now !== hint) events.onHint?.(now);
    hint = now;
  }

  eachFrame(video, stop.signal, () => {
    if (!looking) void look();
  });
  return () => stop.abort();
}

/** Calls `act` at each new frame; at each repaint in browsers that do not tell of frames. */
function eachFrame(video: HTMLVideoElement, signal: AbortSignal, act: () => void): void {
  const next = (): void => {
    if (signal.aborted) return;
    act();
    ask();
  };
  const ask = (): void => {
    if ("requestVideoFrameCallback" in video) video.requestVideoFrameCallback(next);
    else requestAnimationFrame(next);
  };
  ask();
}

/** The frame the video shows, at most FRAME_EDGE long; null before the first. */
async function grab(video: HTMLVideoElement): Promise<ImageBitmap | null> {
  const edge = Math.max(video.videoWidth, video.videoHeight);
  if (video.readyState < HTMLMediaElement.HAVE_CURRENT_DATA || edge === 0) return null;
  const size = Math.min(1, FRAME_EDGE / edge);
  const resizeWidth = Math.round(video.videoWidth * size);
  try {
    return await createImageBitmap(video, size < 1 ? { resizeWidth, resizeQuality: "medium" } : {});
  } catch {
    return null; // the video has no frame at this moment
  }
}
