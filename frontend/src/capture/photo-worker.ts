/** The page's side of the shrinking worker: kept warm, replaced when it dies or takes too long. */

import { scriptUrl } from "../parts/trusted";
import type { FromBurst, Request, Seen, ShrinkAnswer, ShrinkRefusal, Shrunk } from "../workers/shrink-messages";
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

/** A request without its number. */
type Asked<R = Request> = R extends Request ? Omit<R, "id"> : never;

interface Waiting {
  resolve(answer: ShrinkAnswer): void;
  reject(refused: PhotoRefused): void;
  readonly timer: ReturnType<typeof setTimeout>;
}

/** Looks at frames and shrinks pictures one by one in a worker that is begun at the first. All throw PhotoRefused. */
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

  /** The photo to keep. The picture is handed over and can't be used here any more. */
  async shrink(picture: ArrayBuffer | ImageBitmap): Promise<Shrunk> {
    return photoIn(await this.#ask({ picture }, [picture]));
  }

  /** What is seen of a frame, which is handed over. */
  async look(look: ImageBitmap): Promise<Seen> {
    return seenIn(await this.#ask({ look }, [look]));
  }

  /** One more frame of a burst, handed over; the worker keeps the sharpest. */
  async frame(frame: ImageBitmap, first: boolean): Promise<Seen> {
    return seenIn(await this.#ask({ frame, first }, [frame]));
  }

  /** The sharpest frame of the burst, or the still where it is no less sharp. */
  async burst(still: ArrayBuffer | null): Promise<FromBurst> {
    return photoIn(await this.#ask({ still }, still === null ? [] : [still])) as FromBurst;
  }

  #ask(asked: Asked, handed: Transferable[]): Promise<ShrinkAnswer> {
    return new Promise((resolve, reject) => {
      const id = this.#next;
      this.#next += 1;
      const timer = setTimeout(() => this.#drop("too_slow"), this.#waitMs);
      this.#waiting.set(id, { resolve, reject, timer });
      this.#warm().postMessage({ id, ...asked } satisfies Request, handed);
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
    if ("refused" in answer) waiting.reject(new PhotoRefused(answer.refused));
    else waiting.resolve(answer);
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

function photoIn(answer: ShrinkAnswer): Shrunk | FromBurst {
  if ("shrunk" in answer) return answer.shrunk;
  throw new PhotoRefused("stopped");
}

function seenIn(answer: ShrinkAnswer): Seen {
  if ("seen" in answer) return answer.seen;
  throw new PhotoRefused("stopped");
}

let shared: Shrinker | undefined;

/** The one shrinker of this page. Calling it early (when a camera opens) costs nothing; the first picture starts it. */
export function shrinker(): Shrinker {
  shared ??= new Shrinker(() => new Worker(scriptUrl(workerUrl), { type: "module", name: "shrink" }));
  return shared;
}
