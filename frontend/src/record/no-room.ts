/** A full tablet, and making room: photo bytes leave only after their receipt, oldest first, backed up first. */
import type { Sha256 } from "./entry";
import { metaIn } from "./meta";
import type { HeldRow } from "./schema";
import { read, write } from "./store";

/**
 * Measured in Chromium: over quota is QuotaExceededError, a disk really full is DataError "Failed to write
 * blobs". While photos are written, any abort by the browser is treated as no room.
 */
export function isNoRoom(cause: unknown, withPhotos: boolean): boolean {
  if (!(cause instanceof Error)) return false;
  if (cause.name === "QuotaExceededError") return true;
  return withPhotos && (cause.name === "DataError" || cause.name === "AbortError" || cause.name === "UnknownError");
}

/** The photos to free for `bytes`: those below the backup first, then the oldest; never one without a receipt. */
export function toFree(held: readonly HeldRow[], backedUpSeq: number, bytes: number): readonly HeldRow[] {
  const free = held.filter((row) => row.receipt !== undefined && row.freed === undefined && row.waiting === undefined);
  const order = (row: HeldRow): number => (row.seq <= backedUpSeq ? 0 : 1);
  const sorted = [...free].sort((a, b) => order(a) - order(b) || a.ms - b.ms);
  const chosen: HeldRow[] = [];
  let found = 0;
  for (const row of sorted) {
    if (found >= bytes) break;
    chosen.push(row);
    found += row.bytes;
  }
  return chosen;
}

/** Frees receipted photos for about `bytes`; answers which bytes left. They can be fetched again by their hash. */
export async function makeRoom(bytes: number): Promise<readonly Sha256[]> {
  const chosen = await read(["held", "meta"], async (tx) => {
    const [rows, backedUp] = await Promise.all([tx.objectStore("held").getAll(), metaIn(tx, "backed_up_seq")]);
    return toFree(rows, backedUp ?? 0, bytes);
  });
  if (chosen.length === 0) return [];
  return write(["held", "photos"], async (tx) => {
    const freed: Sha256[] = [];
    for (const { sha256 } of chosen) {
      const row = await tx.objectStore("held").get(sha256);
      if (row?.receipt === undefined || row.waiting !== undefined) continue;
      await Promise.all([
        tx.objectStore("photos").delete(sha256),
        tx.objectStore("held").put({ ...row, freed: 1 }),
      ]);
      freed.push(sha256);
    }
    return freed;
  });
}
