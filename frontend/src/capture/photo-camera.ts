/** The live camera: opened with typed reasons when it cannot be, chosen by its own name, gone with a word of it. */

import { type Abilities, abilitiesOf } from "./photo-abilities";

export type { Range } from "./photo-abilities";

/**
 * denied: a person or a policy said no. none: there is no fitting camera. busy: another program holds it, or it broke.
 * insecure: the page is not on https or loopback, so the browser hides all cameras. gone: it was taken away.
 */
export type CameraWhy = "denied" | "none" | "busy" | "insecure" | "gone";

/** The camera does not open, and why. */
export class CameraRefused extends Error {
  override readonly name = "CameraRefused";

  constructor(
    readonly why: CameraWhy,
    options?: ErrorOptions,
  ) {
    super(`camera: ${why}`, options);
  }
}

/** An open camera. Close it when its screen goes: a running camera keeps its lamp on and empties the tablet. */
export interface Camera extends Abilities {
  readonly stream: MediaStream;
  /** The device's own id and name; empty where the browser keeps them back. */
  readonly id: string;
  readonly label: string;
  /** Calls back once, when the camera is taken away: unplugged, forbidden, taken by another program. */
  onGone(told: () => void): void;
  close(): void;
}

/** The back camera, as large as it gives: a photo is kept at 2560 px, more would be thrown away. */
export const BACK_CAMERA: MediaTrackConstraints = {
  facingMode: { ideal: "environment" },
  width: { ideal: 2560 },
  height: { ideal: 1920 },
};

/** The camera of this id, or the back camera where it is not there. */
export function wantedCamera(id: string | undefined): MediaTrackConstraints {
  return id === undefined || id === "" ? BACK_CAMERA : { ...BACK_CAMERA, deviceId: { ideal: id } };
}

/** Opens a camera. Throws CameraRefused, nothing else. */
export async function openCamera(
  wanted: MediaTrackConstraints = BACK_CAMERA,
  media: Pick<MediaDevices, "getUserMedia"> | undefined = navigator.mediaDevices,
): Promise<Camera> {
  if (media === undefined) throw new CameraRefused("insecure"); // hidden outside a secure context
  let stream: MediaStream;
  try {
    stream = await media.getUserMedia({ video: wanted, audio: false });
  } catch (cause) {
    throw new CameraRefused(whyOf(cause), { cause });
  }
  const track = stream.getVideoTracks()[0];
  if (track === undefined) throw new CameraRefused("none");
  await asLargeAsItGives(track);
  let closed = false;
  const close = (): void => {
    closed = true;
    stream.getTracks().forEach((one) => one.stop());
  };
  const onGone = (told: () => void): void => {
    // `ended` does not come for a track that the page itself stopped.
    track.addEventListener("ended", () => (closed ? undefined : told()), { once: true });
  };
  const id = typeof track.getSettings === "function" ? (track.getSettings().deviceId ?? "") : "";
  return { stream, id, label: track.label ?? "", ...abilitiesOf(track), onGone, close };
}

/**
 * Some devices answer the wish for a large picture with a small one, and give the large one when asked for its size
 * exactly as they say it. One that refuses stays as it is.
 */
async function asLargeAsItGives(track: MediaStreamTrack): Promise<void> {
  if (typeof track.getCapabilities !== "function" || typeof track.getSettings !== "function") return;
  const { width, height } = track.getCapabilities();
  const now = track.getSettings();
  const most = { width: Math.min(width?.max ?? 0, 2560), height: Math.min(height?.max ?? 0, 1920) };
  const larger = most.width * most.height > (now.width ?? 0) * (now.height ?? 0);
  if (now.width === undefined || !larger) return;
  await track.applyConstraints({ width: { ideal: most.width }, height: { ideal: most.height } }).catch(() => undefined);
}

/** The reason behind what getUserMedia threw (names by W3C Media Capture and Streams, 10.3). */
export function whyOf(cause: unknown): CameraWhy {
  switch (cause instanceof Error ? cause.name : "") {
    case "NotAllowedError":
    case "SecurityError":
      return "denied";
    case "NotFoundError":
    case "OverconstrainedError":
      return "none";
    default:
      return "busy";
  }
}
