/**
 * compare/ holds a photo then against a photo now: aligned in a worker, side by side, one over the other, in turn.
 * This is the page's side of the worker, begun at the first pair and replaced when it dies or takes too long.
 */
import { scriptUrl } from "../parts/trusted";
import type { Aligned } from "../workers/align";
import type { AlignAnswer, AlignRequest } from "../workers/align-messages";
import type { Laying } from "../workers/align-warp";
import workerUrl from "../workers/align.worker?worker&url";

/** Longest wait for one pair, ms: many times what a slow tablet needs. */
const WAIT_MS = 30_000;

type Ask = Pick<AlignRequest, "changes">;

let worker: Worker | undefined;
let next = 0;

/** How `then` lies over `now`. Refused where it cannot be told. */
export async function aligned(then: ImageBitmapSource, now: ImageBitmapSource): Promise<Aligned> {
  const answer = await asked(then, now, {});
  return answer !== undefined && "aligned" in answer ? answer.aligned : { refused: "nothing_found" };
}

/** Cells of now's square that differ; undefined where nothing could be told. */
export async function differences(then: ImageBitmapSource, now: ImageBitmapSource, changes: Laying): Promise<Uint8Array | undefined> {
  const answer = await asked(then, now, { changes });
  return answer !== undefined && "cells" in answer ? answer.cells : undefined;
}

async function asked(then: ImageBitmapSource, now: ImageBitmapSource, ask: Ask): Promise<AlignAnswer | undefined> {
  const [one, two] = await Promise.all([createImageBitmap(then), createImageBitmap(now)]);
  worker ??= new Worker(scriptUrl(workerUrl), { type: "module", name: "align" });
  const at = worker;
  const id = (next += 1);
  return new Promise((done) => {
    const end = (answer: AlignAnswer | undefined): void => {
      clearTimeout(timer);
      at.removeEventListener("message", onmessage);
      at.removeEventListener("error", onerror);
      if (answer === undefined && worker === at) {
        at.terminate();
        worker = undefined;
      }
      done(answer);
    };
    const onmessage = ({ data }: MessageEvent<AlignAnswer>): void => {
      if (data.id === id) end(data);
    };
    const onerror = (): void => end(undefined);
    const timer = setTimeout(onerror, WAIT_MS);
    at.addEventListener("message", onmessage);
    at.addEventListener("error", onerror);
    at.postMessage({ id, then: one, now: two, ...ask } satisfies AlignRequest, [one, two]);
  });
}
