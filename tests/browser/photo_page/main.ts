/** A page with nothing but the taking of photos, for tests and measurements: built like the product, by the same builder. */

import { CameraRefused, PhotoRefused, type Shot, fromFile, openCamera, takeBurst } from "../../../frontend/src/capture/photo";
import { keepDraft } from "../../../frontend/src/record/drafts";
import { shrink } from "../../../frontend/src/workers/shrink";
import bareUrl from "./bare.worker?worker&url";
import type { What } from "./frames.worker";
import framesUrl from "./frames.worker?worker&url";
import { scriptUrl } from "../../../frontend/src/parts/trusted";

interface Told extends Omit<Shot, "bytes"> {
  readonly base64: string;
  readonly ms: number;
}

const picked = document.querySelector<HTMLInputElement>("#picked")!;
const live = document.querySelector<HTMLVideoElement>("#live")!;
let answer: Promise<Told | string> = Promise.resolve("nothing picked");

/** The shot with its bytes as text and the time it took, or the reason there is none. */
async function told(begin: () => Promise<Shot>): Promise<Told | string> {
  const from = performance.now();
  try {
    const { bytes, ...rest } = await begin();
    return { ...rest, base64: base64(bytes), ms: performance.now() - from };
  } catch (refused) {
    if (refused instanceof PhotoRefused || refused instanceof CameraRefused) return refused.why;
    throw refused;
  }
}

function base64(bytes: ArrayBuffer): string {
  let text = "";
  const all = new Uint8Array(bytes);
  for (let at = 0; at < all.length; at += 8192) text += String.fromCharCode(...all.subarray(at, at + 8192));
  return btoa(text);
}

let looking: Worker | undefined;

function asked(worker: Worker, words: unknown, handed: Transferable[]): Promise<number> {
  return new Promise((resolve) => {
    worker.onmessage = ({ data }: MessageEvent<number>) => resolve(data);
    worker.postMessage(words, handed);
  });
}

picked.addEventListener("change", () => {
  const file = picked.files?.[0];
  if (file !== undefined) answer = told(() => fromFile(file));
});

const photos = {
  picked: () => answer,
  async camera(): Promise<string | { width: number; height: number; torch: boolean; zoom: boolean }> {
    try {
      const camera = await openCamera();
      live.srcObject = camera.stream;
      await live.play();
      return { width: live.videoWidth, height: live.videoHeight, torch: camera.torch !== null, zoom: camera.zoom !== null };
    } catch (refused) {
      return refused instanceof CameraRefused ? refused.why : String(refused);
    }
  },
  frame: () => told(() => takeBurst(live)),
  /** The same, and kept as the draft that a screen keeps at once: the time is until it is durable. */
  saved: () =>
    told(async () => {
      const shot = await takeBurst(live);
      const { sha256, bytes, type, width, height } = shot;
      await keepDraft("photo", null, [{ sha256, bytes, type, width, height, shows: "part" }]);
      return shot;
    }),
  /** The picked file shrunk at a quality, on this page. */
  async at(quality: number): Promise<string> {
    return base64((await shrink(await picked.files![0]!.arrayBuffer(), quality)).bytes);
  },
  /** Milliseconds of each of `runs`: the product's way and the bare codecs in a worker, by turns. */
  async race(runs: number): Promise<{ product: number[]; bare: number[] }> {
    const times: { product: number[]; bare: number[] } = { product: [], bare: [] };
    const worker = new Worker(scriptUrl(bareUrl), { type: "module" });
    const bare = (picture: ArrayBuffer): Promise<void> =>
      new Promise((resolve) => {
        worker.onmessage = () => resolve();
        worker.postMessage(picture, [picture]);
      });
    const bytes = await picked.files![0]!.arrayBuffer();
    const timed = async (into: number[], work: (picture: ArrayBuffer) => Promise<unknown>): Promise<void> => {
      const picture = bytes.slice(0);
      const from = performance.now();
      await work(picture);
      into.push(performance.now() - from);
    };
    for (let run = 0; run < runs + 1; run += 1) {
      await timed(times.bare, bare);
      await timed(times.product, (picture) => fromFile(new Blob([picture])));
    }
    worker.terminate();
    return { product: times.product.slice(1), bare: times.bare.slice(1) };
  },
  /** Looks so many times at the picked file, 640 x 480, in a worker that stays: what it costs is counted from outside. */
  async frames(what: What, frames: number): Promise<number> {
    if (looking === undefined) {
      looking = new Worker(scriptUrl(framesUrl), { type: "module", name: "frames" });
      const picture = await createImageBitmap(picked.files![0]!, { resizeWidth: 640, resizeHeight: 480 });
      await asked(looking, { picture }, [picture]);
    }
    return asked(looking, { what, frames }, []);
  },
};

declare global {
  interface Window {
    photos: typeof photos;
  }
}
window.photos = photos;
