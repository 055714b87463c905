/** The worker that looks at frames and shrinks photos: one request, one answer, in turn; bytes transferred both ways. */

import { Burst } from "./burst";
import { type Cells, frameOf, greyOfFrame, movedBetween } from "./look";
import { NotAPicture, shrink } from "./shrink";
import type { Request, ShrinkAnswer } from "./shrink-messages";

declare const self: DedicatedWorkerGlobalScope;

let burst = new Burst();
let before: Cells | undefined;
let turn: Promise<void> = Promise.resolve();

self.addEventListener("message", ({ data }: MessageEvent<Request>) => {
  turn = turn.then(() => answer(data));
});

async function answer(request: Request): Promise<void> {
  const { id } = request;
  try {
    const said = await work(request);
    self.postMessage({ id, ...said } as ShrinkAnswer, "shrunk" in said ? [said.shrunk.bytes] : []);
  } catch (failure) {
    const refused = failure instanceof NotAPicture ? "not_a_picture" : "no_room";
    self.postMessage({ id, refused } satisfies ShrinkAnswer);
  }
}

type Said = ShrinkAnswer extends infer One ? (One extends { id: number } ? Omit<One, "id"> : never) : never;

async function work(request: Request): Promise<Said> {
  if ("look" in request) {
    try {
      const { measured, cells, tiles } = frameOf(await greyOfFrame(request.look));
      const moved = movedBetween(before, cells);
      before = cells;
      return { seen: { ...measured, moved, tiles } };
    } finally {
      request.look.close();
    }
  }
  if ("frame" in request) {
    if (request.first) {
      burst.drop();
      burst = new Burst();
    }
    return { seen: burst.add(request.frame) };
  }
  if ("still" in request) {
    const shrunk = await burst.end(request.still);
    if (shrunk === null) throw new NotAPicture("a burst without a frame");
    return { shrunk };
  }
  return { shrunk: await shrink(request.picture) };
}
