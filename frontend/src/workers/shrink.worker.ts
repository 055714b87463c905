/** The worker that shrinks photos: one request, one answer, bytes transferred both ways. */

import { NotAPicture, shrink } from "./shrink";
import type { ShrinkAnswer, ShrinkRequest } from "./shrink-messages";

declare const self: DedicatedWorkerGlobalScope;

self.addEventListener("message", ({ data }: MessageEvent<ShrinkRequest>) => {
  void answer(data);
});

async function answer({ id, picture }: ShrinkRequest): Promise<void> {
  try {
    const shrunk = await shrink(picture);
    self.postMessage({ id, shrunk } satisfies ShrinkAnswer, [shrunk.bytes]);
  } catch (failure) {
    const refused = failure instanceof NotAPicture ? "not_a_picture" : "no_room";
    self.postMessage({ id, refused } satisfies ShrinkAnswer);
  }
}
