/** The worker that reads codes: one frame, one answer. */

import { loadReader, scan } from "./scan";
import type { ScanReply, ScanRequest } from "./scan-messages";

declare const self: DedicatedWorkerGlobalScope;

loadReader();

self.addEventListener("message", ({ data }: MessageEvent<ScanRequest>) => {
  void answer(data);
});

async function answer({ id, picture, effort }: ScanRequest): Promise<void> {
  const began = performance.now();
  try {
    const codes = await scan(picture, effort);
    self.postMessage({ id, codes, ms: performance.now() - began } satisfies ScanReply);
  } catch (failure) {
    self.postMessage({ id, failed: String(failure) } satisfies ScanReply);
  }
}
