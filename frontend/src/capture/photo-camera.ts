/** The live camera: opened with typed reasons when it cannot be, light and zoom only where it has them. */

/**
 * denied: a person or a policy said no. none: there is no fitting camera. busy: another program holds it, or it broke.
 * insecure: the page is not on https or loopback, so the browser hides all cameras.
 */
export type CameraWhy = "denied" | "none" | "busy" | "insecure";

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

export interface Range {
  readonly min: number;
  readonly max: number;
  readonly step: number;
}

/** An open camera. Close it when its screen goes: a running camera keeps its lamp on and empties the tablet. */
export interface Camera {
  readonly stream: MediaStream;
  /** Null where the camera has no lamp it lets us switch; resolves to whether it obeyed. */
  readonly torch: ((on: boolean) => Promise<boolean>) | null;
  /** Null where the camera has no zoom; resolves to whether it obeyed. */
  readonly zoom: { readonly range: Range; to(value: number): Promise<boolean> } | null;
  close(): void;
}

/** The back camera, as large as it gives. */
export const BACK_CAMERA: MediaTrackConstraints = {
  facingMode: { ideal: "environment" },
  width: { ideal: 2560 },
  height: { ideal: 1920 },
};

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
  const close = (): void => stream.getTracks().forEach((one) => one.stop());
  return { stream, ...extrasOf(track), close };
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

/** What W3C's Image Capture adds to a track; TypeScript's DOM does not know it yet. */
interface Extras {
  readonly torch?: boolean;
  readonly zoom?: Range;
}

function extrasOf(track: MediaStreamTrack): Pick<Camera, "torch" | "zoom"> {
  // Firefox had no getCapabilities before 132.
  const has: Extras = typeof track.getCapabilities === "function" ? (track.getCapabilities() as Extras) : {};
  const apply = async (setting: object): Promise<boolean> => {
    try {
      await track.applyConstraints({ advanced: [setting] });
      return true;
    } catch {
      return false;
    }
  };
  const range = has.zoom;
  return {
    torch: has.torch === true ? (on) => apply({ torch: on }) : null,
    zoom:
      range !== undefined && range.max > range.min
        ? { range, to: (value) => apply({ zoom: Math.min(range.max, Math.max(range.min, value)) }) }
        : null,
  };
}
