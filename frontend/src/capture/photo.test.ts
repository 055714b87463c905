// capability: photos
import { describe, expect, test, vi } from "vitest";
import type { ShrinkAnswer, ShrinkRequest, Shrunk } from "../workers/shrink-messages";
import { CameraRefused, fromFile, openCamera } from "./photo";
import { whyOf } from "./photo-camera";
import { type StillCamera, stillFrom } from "./photo-still";
import { PhotoRefused, Shrinker, type ShrinkWorker } from "./photo-worker";

const SHRUNK: Shrunk = {
  sha256: "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
  bytes: new ArrayBuffer(3),
  type: "image/jpeg",
  width: 4,
  height: 3,
  sharpness: 12,
  crisp: 400,
  mean: 90,
  white: 0,
  glare: 0,
  low: 5,
  high: 200,
};

/** A worker that does with each request what it is told. */
class ToldWorker extends EventTarget implements ShrinkWorker {
  ended = false;
  constructor(private readonly told: (request: ShrinkRequest, worker: ToldWorker) => void) {
    super();
  }
  postMessage(request: unknown): void {
    this.told(request as ShrinkRequest, this);
  }
  terminate(): void {
    this.ended = true;
  }
  say(answer: ShrinkAnswer): void {
    this.dispatchEvent(new MessageEvent("message", { data: answer }));
  }
}

describe("the shrinking worker", () => {
  test("answers are given to the one who asked, in whatever order they come", async () => {
    const asked: number[] = [];
    const worker = new ToldWorker(({ id }, self) => {
      asked.push(id);
      if (asked.length === 2) for (const one of asked.toReversed()) self.say({ id: one, shrunk: { ...SHRUNK, width: one } });
    });
    const shrinker = new Shrinker(() => worker);
    const both = await Promise.all([shrinker.shrink(new ArrayBuffer(1)), shrinker.shrink(new ArrayBuffer(1))]);
    expect(both.map((shrunk) => shrunk.width)).toEqual(asked);
  });

  test("a refusal keeps its reason and the worker", async () => {
    const begin = vi.fn(() => new ToldWorker(({ id }, self) => self.say({ id, refused: "not_a_picture" })));
    const shrinker = new Shrinker(begin);
    await expect(shrinker.shrink(new ArrayBuffer(1))).rejects.toMatchObject({ why: "not_a_picture" });
    await expect(shrinker.shrink(new ArrayBuffer(1))).rejects.toBeInstanceOf(PhotoRefused);
    expect(begin).toHaveBeenCalledTimes(1);
  });

  test("a worker that dies refuses all that wait, and the next photo begins a new one", async () => {
    const dying = new ToldWorker(({ id }, self) => {
      if (id === 1) self.dispatchEvent(new Event("error"));
    });
    const sound = new ToldWorker(({ id }, self) => self.say({ id, shrunk: SHRUNK }));
    const workers = [dying, sound];
    const shrinker = new Shrinker(() => workers.shift()!);
    const both = await Promise.allSettled([shrinker.shrink(new ArrayBuffer(1)), shrinker.shrink(new ArrayBuffer(1))]);
    expect(both.map((one) => one.status === "rejected" && (one.reason as PhotoRefused).why)).toEqual(["stopped", "stopped"]);
    expect(dying.ended).toBe(true);
    expect(await shrinker.shrink(new ArrayBuffer(1))).toEqual(SHRUNK);
  });

  test("a worker that does not answer in time is ended", async () => {
    const silent = new ToldWorker(() => {});
    const shrinker = new Shrinker(() => silent, 1);
    await expect(shrinker.shrink(new ArrayBuffer(1))).rejects.toMatchObject({ why: "too_slow" });
    expect(silent.ended).toBe(true);
  });
});

describe("a picked file", () => {
  test("that was taken away is refused as gone", async () => {
    const gone = Object.assign(new Blob(["x"]), { arrayBuffer: () => Promise.reject(new DOMException("", "NotReadableError")) });
    await expect(fromFile(gone)).rejects.toMatchObject({ why: "file_gone" });
  });

  test("without a byte is refused as empty", async () => {
    await expect(fromFile(new Blob([]))).rejects.toMatchObject({ why: "file_empty" });
  });
});

describe("a still photo", () => {
  const camera = (max: number, bytes: () => Promise<Blob>): StillCamera => ({
    getPhotoCapabilities: () => Promise.resolve({ imageWidth: { max }, imageHeight: { max: (max * 3) / 4 } }),
    takePhoto: bytes,
  });
  const blob = (): Promise<Blob> => Promise.resolve(new Blob(["still"]));

  test("is taken where it is larger than the frame", async () => {
    expect((await stillFrom(camera(4000, blob), 1280))?.byteLength).toBe(5);
  });

  test.each([
    ["is not larger", camera(1280, blob)],
    ["is empty", camera(4000, () => Promise.resolve(new Blob([])))],
    ["is refused", camera(4000, () => Promise.reject(new DOMException("", "InvalidStateError")))],
    ["is not described", { ...camera(4000, blob), getPhotoCapabilities: () => Promise.resolve({}) }],
  ])("that %s leaves the frame", async (_, told) => {
    expect(await stillFrom(told, 1280)).toBeNull();
  });

  test("that does not come in time leaves the frame", async () => {
    expect(await stillFrom(camera(4000, () => new Promise(() => {})), 1280, 1)).toBeNull();
  });
});

describe("the camera", () => {
  // Names by W3C Media Capture and Streams, section 10.3.
  test.each([
    ["NotAllowedError", "denied"],
    ["SecurityError", "denied"],
    ["NotFoundError", "none"],
    ["OverconstrainedError", "none"],
    ["NotReadableError", "busy"],
    ["AbortError", "busy"],
  ])("%s is told as %s", (name, why) => {
    expect(whyOf(new DOMException("", name))).toBe(why);
  });

  test("on a page that is not secure is told as insecure", async () => {
    vi.stubGlobal("navigator", {}); // there, a browser hides `mediaDevices`
    await expect(openCamera()).rejects.toBeInstanceOf(CameraRefused);
    await expect(openCamera()).rejects.toMatchObject({ why: "insecure" });
    vi.unstubAllGlobals();
  });

  const opened = (track: object): Pick<MediaDevices, "getUserMedia"> => ({
    getUserMedia: () => Promise.resolve({ getVideoTracks: () => [track], getTracks: () => [track] } as unknown as MediaStream),
  });

  test("tells that it was taken away, once, and not when the page itself closed it", async () => {
    const track = Object.assign(new EventTarget(), { stop: vi.fn() });
    const camera = await openCamera({}, opened(track));
    const told = vi.fn();
    camera.onGone(told);
    track.dispatchEvent(new Event("ended"));
    track.dispatchEvent(new Event("ended"));
    expect(told).toHaveBeenCalledOnce();
    const other = await openCamera({}, opened(track));
    other.onGone(told);
    other.close();
    track.dispatchEvent(new Event("ended"));
    expect(told).toHaveBeenCalledOnce();
  });

  test.each([
    ["is asked for all it has where it gave less", { width: { max: 1600 }, height: { max: 1200 } }, { width: 640, height: 480 }, [{ width: { ideal: 1600 }, height: { ideal: 1200 } }]],
    ["is asked for no more than is kept", { width: { max: 8000 }, height: { max: 6000 } }, { width: 1280, height: 720 }, [{ width: { ideal: 2560 }, height: { ideal: 1920 } }]],
    ["stays as it is where it gave all", { width: { max: 1280 }, height: { max: 720 } }, { width: 1280, height: 720 }, []],
    ["stays as it is where it says nothing of itself", {}, {}, []],
  ])("%s", async (_, can, gives, asks) => {
    const asked: unknown[] = [];
    await openCamera({}, opened({
      getCapabilities: () => can, getSettings: () => gives,
      applyConstraints: (wish: unknown) => (asked.push(wish), Promise.reject(new DOMException("", "OverconstrainedError"))),
    }));
    expect(asked).toEqual(asks);
  });
});
