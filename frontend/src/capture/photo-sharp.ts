/**
 * Whether a picture is as sharp as this camera was a moment ago. No number means "sharp" for every scene, so each
 * frame is compared with the best of the last seconds, of the same thing; it is told and never blocks.
 */
import { fitWithin } from "../workers/shrink-fit";
import { greyOf, lap2x100, meanGrey, MEASURED_EDGE } from "../workers/sharpness";

/** What is said of a picture. */
export type Sharpness = "sharp" | "not_sharp" | "too_dark";

/** Frames older than this no longer count as the best: the hand has gone on to something else. */
export const BEST_OF_MS = 3_000;
/**
 * Share of the best below which a picture is not sharp. Of three drawn pictures 640 px wide with sensor noise 1 and 4,
 * a blur of 0.5 px leaves 0.64 to 0.77 of the measure, one of 0.8 px 0.35 to 0.57 (measured; not yet on tablets).
 */
export const SHARP_FROM = 0.6;
/** Mean grey, 0 to 255, below which it is too dark to tell (ours, not measured on tablets). */
export const DARK_BELOW = 30;

export interface Measured {
  /** Hundredths of `lap2`. */
  readonly sharpness: number;
  readonly mean: number;
}

/** The frames of the last seconds. */
export class SharpWatch {
  #seen: { readonly at: number; readonly sharpness: number }[] = [];

  note({ sharpness }: Measured, at: number): void {
    this.#seen = [...this.#seen.filter((each) => at - each.at <= BEST_OF_MS), { at, sharpness }];
  }

  /** 0 to 1 of the best of the last seconds, this one included. */
  share({ sharpness }: Measured, at: number): number {
    const best = Math.max(sharpness, ...this.#seen.filter((each) => at - each.at <= BEST_OF_MS).map((each) => each.sharpness));
    return best === 0 ? 0 : sharpness / best;
  }

  tell(measured: Measured, at: number): Sharpness {
    if (measured.mean < DARK_BELOW) return "too_dark";
    return this.share(measured, at) >= SHARP_FROM ? "sharp" : "not_sharp";
  }
}

let canvas: OffscreenCanvas | undefined;

/** Measures the frame that a video shows now, about 3 ms; nothing before the first frame. */
export function measureFrame(video: HTMLVideoElement): Measured | undefined {
  if (video.readyState < HTMLMediaElement.HAVE_CURRENT_DATA || video.videoWidth === 0) return undefined;
  const { width, height } = fitWithin({ width: video.videoWidth, height: video.videoHeight }, MEASURED_EDGE);
  canvas ??= new OffscreenCanvas(width, height);
  if (canvas.width !== width || canvas.height !== height) canvas = new OffscreenCanvas(width, height);
  const context = canvas.getContext("2d", { alpha: false, willReadFrequently: true });
  if (context === null) return undefined;
  context.imageSmoothingQuality = "high";
  context.drawImage(video, 0, 0, width, height);
  const grey = greyOf(context.getImageData(0, 0, width, height).data, width, height);
  return { sharpness: lap2x100(grey), mean: meanGrey(grey) };
}
