/** A still photo from the camera behind a video, where it is larger than the video and comes in time. */

/** Longest wait for a still, in milliseconds; then the frame taken at the tap is kept (ours, not measured on tablets). */
export const STILL_WAIT_MS = 2_000;

/** The part of W3C's MediaStream Image Capture used here; TypeScript's DOM does not know it yet. */
export interface StillCamera {
  getPhotoCapabilities(): Promise<{ imageWidth?: { max: number }; imageHeight?: { max: number } }>;
  takePhoto(settings?: { imageWidth?: number; imageHeight?: number }): Promise<Blob>;
}

declare global {
  interface Window {
    readonly ImageCapture?: new (track: MediaStreamTrack) => StillCamera;
  }
}

/** The still's bytes, or null when there is no larger one, it does not come in time, or the camera refuses. */
export async function largerPhoto(video: HTMLVideoElement, frameEdge: number): Promise<ArrayBuffer | null> {
  const camera = stillCamera(video);
  return camera === null ? null : stillFrom(camera, frameEdge);
}

/** As `largerPhoto`, from the camera itself. */
export async function stillFrom(
  camera: StillCamera,
  frameEdge: number,
  waitMs = STILL_WAIT_MS,
): Promise<ArrayBuffer | null> {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const late = new Promise<null>((resolve) => {
    timer = setTimeout(resolve, waitMs, null);
  });
  try {
    return await Promise.race([take(camera, frameEdge), late]);
  } catch {
    return null; // a camera that cannot take stills still gives frames
  } finally {
    clearTimeout(timer);
  }
}

async function take(camera: StillCamera, frameEdge: number): Promise<ArrayBuffer | null> {
  const { imageWidth, imageHeight } = await camera.getPhotoCapabilities();
  if (Math.max(imageWidth?.max ?? 0, imageHeight?.max ?? 0) <= frameEdge) return null;
  const bytes = await (await camera.takePhoto()).arrayBuffer();
  return bytes.byteLength === 0 ? null : bytes;
}

function stillCamera(video: HTMLVideoElement): StillCamera | null {
  const stream = video.srcObject;
  const track = stream instanceof MediaStream ? stream.getVideoTracks()[0] : undefined;
  if (window.ImageCapture === undefined || track === undefined || track.readyState !== "live") return null;
  try {
    return new window.ImageCapture(track);
  } catch {
    return null;
  }
}
