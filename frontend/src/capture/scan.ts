/** The page's side of the code-reading worker: one frame under way, a time limit, replaced when it is stuck. */

import { scriptUrl } from "../parts/trusted";
import type { Effort, ScannedCode, ScanReply, ScanRequest } from "../workers/scan-messages";
import workerUrl from "../workers/scan.worker?worker&url";

export type { Corner, Effort, ScannedCode } from "../workers/scan-messages";

/**
 * What became of a frame. read: looked at, codes may be none · busy: the one before is still looked at ·
 * silent: the reader gives no answer; without its wasm it never does, so a screen says so and offers typing ·
 * failed: it broke on this frame.
 */
export type ScanAnswer =
  | { readonly kind: "read"; readonly codes: readonly ScannedCode[]; readonly ms: number }
  | { readonly kind: "busy" }
  | { readonly kind: "silent" }
  | { readonly kind: "failed" };

/** Wait for one frame until the reader counts as silent, in milliseconds. A frame takes 7 to 30 (measured, 2 cores). */
export const SCAN_WAIT_MS = 5_000;

/** Silent for this long, in milliseconds, the worker is replaced. */
export const SCAN_STUCK_MS = 30_000;

/** This many frames in a row that the reader breaks on, and the worker is replaced: its wasm may not have loaded. */
export const SCAN_BROKEN = 3;

/** What is used of a Worker. */
export type ScanWorker = Pick<Worker, "postMessage" | "terminate" | "addEventListener">;

interface UnderWay {
  readonly id: number;
  readonly since: number;
  readonly answer: Promise<ScanAnswer>;
  readonly done: (answer: ScanAnswer) => void;
  /** Resolves when the worker is free again: with the answer, or much later than it was given up. */
  readonly ended: Promise<void>;
  readonly end: () => void;
  readonly timer: ReturnType<typeof setTimeout>;
  late: boolean;
}

/** Reads codes in pictures. The picture is handed over: it can't be used after `read`. */
export class Scanner {
  readonly #begin: () => ScanWorker;
  readonly #waitMs: number;
  readonly #now: () => number;
  #worker: ScanWorker | null = null;
  #underWay: UnderWay | null = null;
  #next = 0;
  /** A worker that broke is not begun again before this time, or each frame would begin one. */
  #restsUntil = Number.NEGATIVE_INFINITY;
  #failed = 0;

  constructor(begin: () => ScanWorker, waitMs = SCAN_WAIT_MS, now: () => number = () => performance.now()) {
    this.#begin = begin;
    this.#waitMs = waitMs;
    this.#now = now;
  }

  /** Resolves when the reader is free; a frame that was given up is waited for once more, as long again. */
  async turn(): Promise<void> {
    while (this.#underWay !== null) {
      const { late, answer, ended } = this.#underWay;
      if (!late) await answer;
      else if (!(await within(ended, this.#waitMs))) return;
    }
  }

  /** Start the worker and its wasm before the first frame. */
  warm(): void {
    this.#started();
  }

  /** Looks at one picture. Never rejects. */
  read(picture: ImageBitmap, effort: Effort): Promise<ScanAnswer> {
    const before = this.#underWay;
    if (before !== null && before.late && this.#now() - before.since >= SCAN_STUCK_MS) this.#replace();
    if (this.#underWay !== null || this.#now() < this.#restsUntil) {
      picture.close();
      return Promise.resolve({ kind: this.#underWay?.late === false ? "busy" : "silent" });
    }
    const id = this.#next;
    this.#next += 1;
    const { promise, done } = promised<ScanAnswer>();
    const { promise: ended, done: end } = promised<void>();
    const timer = setTimeout(() => this.#tooLate(id), this.#waitMs);
    this.#underWay = { id, since: this.#now(), answer: promise, done, ended, end, timer, late: false };
    this.#started().postMessage({ id, picture, effort } satisfies ScanRequest, [picture]);
    return promise;
  }

  /** Ends the worker; the next frame begins a new one. */
  close(): void {
    this.#replace();
  }

  #started(): ScanWorker {
    if (this.#worker !== null) return this.#worker;
    const worker = this.#begin();
    worker.addEventListener("message", (event) => this.#answered((event as MessageEvent<ScanReply>).data));
    worker.addEventListener("error", () => this.#rest());
    this.#worker = worker;
    return worker;
  }

  #answered(reply: ScanReply): void {
    if (this.#underWay?.id !== reply.id) return;
    const failed = "failed" in reply;
    this.#failed = failed ? this.#failed + 1 : 0;
    this.#end(failed ? { kind: "failed" } : { kind: "read", codes: reply.codes, ms: reply.ms });
    if (this.#failed >= SCAN_BROKEN) this.#rest();
  }

  #rest(): void {
    this.#failed = 0;
    this.#restsUntil = this.#now() + this.#waitMs;
    this.#replace();
  }

  /** The frame is given up, but the worker is not: it may still be loading its wasm over a slow network. */
  #tooLate(id: number): void {
    const underWay = this.#underWay;
    if (underWay?.id !== id) return;
    underWay.late = true;
    underWay.done({ kind: "silent" });
  }

  #replace(): void {
    this.#worker?.terminate();
    this.#worker = null;
    this.#end({ kind: "silent" });
  }

  #end(answer: ScanAnswer): void {
    const underWay = this.#underWay;
    if (underWay === null) return;
    clearTimeout(underWay.timer);
    this.#underWay = null;
    underWay.done(answer);
    underWay.end();
  }
}

/** A promise and what settles it (Safari before 17.4 has no Promise.withResolvers). */
function promised<T>(): { promise: Promise<T>; done: (value: T) => void } {
  let done: (value: T) => void = () => undefined;
  const promise = new Promise<T>((resolve) => {
    done = resolve;
  });
  return { promise, done };
}

/** Whether it comes within so many milliseconds. */
function within(coming: Promise<void>, ms: number): Promise<boolean> {
  return new Promise((resolve) => {
    const timer = setTimeout(() => resolve(false), ms);
    void coming.then(() => {
      clearTimeout(timer);
      resolve(true);
    });
  });
}

let shared: Scanner | undefined;

/** The one code reader of this page, kept warm over screens. */
export function scanner(): Scanner {
  shared ??= new Scanner(() => new Worker(scriptUrl(workerUrl), { type: "module", name: "scan" }));
  return shared;
}

/**
 * The codes in a photo that is kept, for instance that of the serial number; null where the reader gave no answer.
 * Waits its turn behind a camera frame. The picture is handed over.
 */
export async function codesIn(picture: ImageBitmap, reader: Scanner = scanner()): Promise<readonly ScannedCode[] | null> {
  await reader.turn();
  const answer = await reader.read(picture, "still");
  return answer.kind === "read" ? answer.codes : null;
}
