/** The page's side of the code reader, with a worker that answers when the test says so. */
import { afterEach, beforeEach, expect, test, vi } from "vitest";
import type { ScannedCode } from "../workers/scan-messages";
import type { ScanWorker } from "./scan";
import { codesIn, SCAN_STUCK_MS, SCAN_WAIT_MS, Scanner } from "./scan";

vi.mock("../workers/scan.worker?worker&url", () => ({ default: "/assets/scan.js" }));

beforeEach(() => vi.useFakeTimers());
afterEach(() => vi.useRealTimers());

const CODE: ScannedCode = { text: "C-14", symbology: "]C0", format: "Code128", contentType: "Text", corners: [[0, 0], [1, 0], [1, 1], [0, 1]] };

/** A worker that keeps what it was sent. */
class Held {
  readonly sent: { id: number; effort: string }[] = [];
  readonly heard = new Map<string, (event: Event) => void>();
  ended = false;
  readonly worker = {
    postMessage: (message: { id: number; effort: string }) => this.sent.push(message),
    terminate: () => {
      this.ended = true;
    },
    addEventListener: (kind: string, hear: (event: Event) => void) => this.heard.set(kind, hear),
  } as unknown as ScanWorker;

  answer(at: number, reply: object): void {
    this.heard.get("message")?.({ data: { id: this.sent[at]?.id, ...reply } } as MessageEvent);
  }

  breakDown(): void {
    this.heard.get("error")?.({} as Event);
  }
}

function picture(): ImageBitmap & { closed: boolean } {
  const made = { width: 4, height: 4, closed: false, close: () => { made.closed = true; } };
  return made;
}

function setUp(): { scanner: Scanner; workers: Held[] } {
  const workers: Held[] = [];
  const scanner = new Scanner(() => {
    const held = new Held();
    workers.push(held);
    return held.worker;
  }, SCAN_WAIT_MS, () => Date.now());
  return { scanner, workers };
}

test("a frame is answered with its codes", async () => {
  const { scanner, workers } = setUp();
  const answer = scanner.read(picture(), "fast");
  workers[0]?.answer(0, { codes: [CODE], ms: 7 });
  expect(await answer).toEqual({ kind: "read", codes: [CODE], ms: 7 });
});

test("while one frame is under way the next is closed and not sent", async () => {
  const { scanner, workers } = setUp();
  const first = scanner.read(picture(), "fast");
  const second = picture();
  expect(await scanner.read(second, "hard")).toEqual({ kind: "busy" });
  expect(second.closed).toBe(true);
  workers[0]?.answer(0, { codes: [], ms: 7 });
  await first;
  expect(workers[0]?.sent.map(({ effort }) => effort)).toEqual(["fast"]);
});

test("no answer for 5 s is silence; a late answer makes it work again", async () => {
  const { scanner, workers } = setUp();
  const first = scanner.read(picture(), "fast");
  await vi.advanceTimersByTimeAsync(SCAN_WAIT_MS);
  expect(await first).toEqual({ kind: "silent" });
  expect(await scanner.read(picture(), "fast")).toEqual({ kind: "silent" });
  workers[0]?.answer(0, { codes: [], ms: 6000 });
  const next = scanner.read(picture(), "fast");
  workers[0]?.answer(1, { codes: [CODE], ms: 7 });
  expect(await next).toEqual({ kind: "read", codes: [CODE], ms: 7 });
  expect(workers).toHaveLength(1);
});

test("a worker stuck for 30 s is replaced", async () => {
  const { scanner, workers } = setUp();
  void scanner.read(picture(), "fast");
  await vi.advanceTimersByTimeAsync(SCAN_STUCK_MS);
  const next = scanner.read(picture(), "fast");
  expect(workers.map(({ ended }) => ended)).toEqual([true, false]);
  workers[1]?.answer(0, { codes: [], ms: 7 });
  expect((await next).kind).toBe("read");
});

test("a worker that cannot start is silence, and is tried again after a rest", async () => {
  const { scanner, workers } = setUp();
  const first = scanner.read(picture(), "fast");
  workers[0]?.breakDown();
  expect(await first).toEqual({ kind: "silent" });
  expect(await scanner.read(picture(), "fast")).toEqual({ kind: "silent" });
  expect(workers).toHaveLength(1);
  await vi.advanceTimersByTimeAsync(SCAN_WAIT_MS);
  void scanner.read(picture(), "fast");
  expect(workers).toHaveLength(2);
});

test("a reader that breaks on three frames in a row is replaced after a rest", async () => {
  const { scanner, workers } = setUp();
  for (let at = 0; at < 3; at += 1) {
    const answer = scanner.read(picture(), "fast");
    workers[0]?.answer(at, { failed: "no wasm" });
    expect(await answer).toEqual({ kind: "failed" });
  }
  expect(workers[0]?.ended).toBe(true);
  expect(await scanner.read(picture(), "fast")).toEqual({ kind: "silent" });
  await vi.advanceTimersByTimeAsync(SCAN_WAIT_MS);
  void scanner.read(picture(), "fast");
  expect(workers).toHaveLength(2);
});

test("a photo waits its turn behind a camera frame", async () => {
  const { scanner, workers } = setUp();
  const frame = scanner.read(picture(), "fast");
  const photo = codesIn(picture(), scanner);
  workers[0]?.answer(0, { codes: [], ms: 7 });
  await frame;
  await vi.advanceTimersByTimeAsync(0);
  workers[0]?.answer(1, { codes: [CODE], ms: 140 });
  expect(await photo).toEqual([CODE]);
  expect(workers[0]?.sent.map(({ effort }) => effort)).toEqual(["fast", "still"]);
});

test("a photo waits for a reader that was given up on, and is read once it answers", async () => {
  const { scanner, workers } = setUp();
  const first = codesIn(picture(), scanner);
  await vi.advanceTimersByTimeAsync(SCAN_WAIT_MS);
  expect(await first).toBeNull();
  const again = codesIn(picture(), scanner);
  await vi.advanceTimersByTimeAsync(SCAN_WAIT_MS - 1);
  workers[0]?.answer(0, { codes: [], ms: 9000 });
  await vi.advanceTimersByTimeAsync(0);
  workers[0]?.answer(1, { codes: [CODE], ms: 140 });
  expect(await again).toEqual([CODE]);
});

test("a photo waits no longer than twice for a reader that never answers", async () => {
  const { scanner, workers } = setUp();
  const first = codesIn(picture(), scanner);
  await vi.advanceTimersByTimeAsync(SCAN_WAIT_MS);
  await first;
  const again = codesIn(picture(), scanner);
  await vi.advanceTimersByTimeAsync(SCAN_WAIT_MS);
  expect(await again).toBeNull();
  expect(workers).toHaveLength(1);
});

test("a photo the reader breaks on has no answer, not no codes", async () => {
  const { scanner, workers } = setUp();
  const photo = codesIn(picture(), scanner);
  await vi.advanceTimersByTimeAsync(0);
  workers[0]?.answer(0, { failed: "out of memory" });
  expect(await photo).toBeNull();
});
