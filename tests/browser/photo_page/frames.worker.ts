/** What one live frame costs in the worker: the same picture over and over, by the product's own code, and a plain variance. */

import { frameOf, greyOfFrame, greyOfPicture, movedBetween, ownGrey, type Cells } from "../../../frontend/src/workers/look";
import type { Grey } from "../../../frontend/src/workers/sharpness";

/** Looks at the picture so many times: greys alone, all that the product measures, greys and the plain measure, or: how many greys the two ways to them have apart, -1 for no second way. */
export type What = "greys" | "same" | "product" | "plain";

let picture: ImageBitmap;
let before: Cells | undefined;

self.onmessage = async ({ data }: MessageEvent<{ picture: ImageBitmap } | { what: What; frames: number }>) => {
  let sum = 0;
  if ("picture" in data) picture = data.picture;
  else if (data.what === "same") sum = await differing();
  else {
    for (let frame = 0; frame < data.frames; frame += 1) {
      const grey = await greyOfFrame(picture);
      if (data.what === "plain") sum += plain(grey);
      if (data.what !== "product") continue;
      const { measured, cells } = frameOf(grey);
      sum += measured.sharpness + movedBetween(before, cells);
      before = cells;
    }
  }
  self.postMessage(sum);
};

async function differing(): Promise<number> {
  const own = Uint8Array.from((await ownGrey(picture))?.values ?? []);
  const drawn = greyOfPicture(picture).values;
  return own.length === 0 ? -1 : drawn.filter((grey, at) => grey !== own[at]).length;
}

/** Variance of the Laplacian (Pech-Pacheco et al., ICPR 2000), as one writes it down. */
function plain({ width, height, values }: Grey): number {
  let total = 0;
  let squares = 0;
  for (let y = 1; y < height - 1; y += 1) {
    for (let at = y * width + 1, end = (y + 1) * width - 1; at < end; at += 1) {
      const bend = values[at - 1]! + values[at + 1]! + values[at - width]! + values[at + width]! - 4 * values[at]!;
      total += bend;
      squares += bend * bend;
    }
  }
  const size = (width - 2) * (height - 2);
  return squares / size - (total / size) ** 2;
}
