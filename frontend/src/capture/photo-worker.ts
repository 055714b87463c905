/** The page's side of the shrinking worker: kept warm, replaced when it dies or takes too long. */

import { scriptUrl } from "../parts/trusted";
import type { ShrinkAnswer, ShrinkRefusal, ShrinkRequest, Shrunk } from "../workers/shrink-messages";
import workerUrl from "../workers/shrink.worker?worker&url";

/**
 * not_a_picture, no_room: see the worker. no_frame: the camera shows nothing yet. file_gone: the tablet took the picked
 * file away. file_empty: it has no bytes. too_slow: no answer in time. stopped: the worker died.
 */
export type PhotoWhy = ShrinkRefusal | "no_frame" | "file_gone" | "file_empty" | "too_slow" | "stopped";

/** There is no photo, and why. Nothing else is touched by it. */
export class PhotoRefused extends Error {
  override readonly name = "PhotoRefused";

  constructor(readonly why: PhotoWhy) {
    super(`photo: ${why}`);
  }
}

/** Longest wait for one photo, in milliseconds: many times what a slow tablet needs for 12 megapixels. */
export const SHRINK_WAIT_MS = 20_000;

/** What is used of a Worker. */
export type ShrinkWorker = Pick<Worker, "postMessage" | "terminate" | "addEventListener">;

interface Waiting {
  resolve(shrunk: Shrunk): void;
  reject(refused: PhotoRefused): void;
  readonly timer: ReturnType<typeof setTimeout>;
}

/** Shrinks pictures one by one in a worker that is begun at the first. */
export class Shrinker {
  readonly #begin: () => ShrinkWorker;
  readonly #waitMs: number;
  readonly #waiting = new Map<number, Waiting>();
  #worker: ShrinkWorker | null = null;
  #next = 0;

  constructor(begin: () => ShrinkWorker, waitMs = SHRINK_WAIT_MS) {
    this.#begin = begin;
    this.#waitMs = waitMs;
  }

  /** The photo to keep. The picture is handed over and can't be used here any more. Throws PhotoRefused. */
  shrink(picture: ArrayBuffer | ImageBitmap): Promise<Shrunk> {
    return new Promise((resolve, reject) => {
      const id = this.#next;
      this.#next += 1;
      const timer = setTimeout(() => this.#drop("too_slow"), this.#waitMs);
      this.#waiting.set(id, { resolve, reject, timer });
      this.#warm().postMessage({ id, picture } satisfies ShrinkRequest, [picture]);
    });
  }

  #warm(): ShrinkWorker {
    if (this.#worker !== null) return this.#worker;
    const worker = this.#begin();
    worker.addEventListener("message", (event) => this.#answered((event as MessageEvent<ShrinkAnswer>).data));
    worker.addEventListener("error", () => this.#drop("stopped"));
    this.#worker = worker;
    return worker;
  }

  #answered(answer: ShrinkAnswer): void {
    const waiting = this.#waiting.get(answer.id);
    if (waiting === undefined) return;
    this.#waiting.delete(answer.id);
    clearTimeout(waiting.timer);
    if ("shrunk" in answer) waiting.resolve(answer.shrunk);
    else waiting.reject(new PhotoRefused(answer.refused));
  }

  /** Ends the worker and refuses all that wait; the next picture begins a new one. */
  #drop(why: "too_slow" | "stopped"): void {
    this.#worker?.terminate();
    this.#worker = null;
    for (const { reject, timer } of this.#waiting.values()) {
      clearTimeout(timer);
      reject(new PhotoRefused(why));
    }
    this.#waiting.clear();
  }
}

let shared: Shrinker | undefined;

/** The one shrinker of this page. Calling it early (when a camera opens) costs nothing; the first picture starts it. */
export function shrinker(): Shrinker {
  shared ??= new Shrinker(() => new Worker(scriptUrl(workerUrl), { type: "module", name: "shrink" }));
  return shared;
}
