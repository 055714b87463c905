/** All that has no receipt yet, as one file a person can carry: the last way out of a tablet that cannot send. */
import { hiddenPhotos } from "./hidden";
import { signHead } from "./keys";
import { moment } from "./moment";
import { batchFrom, firstWaiting, type SendingChain, sending } from "./outbox";
import type { EntryRow, PhotoRow } from "./schema";
import { settings } from "./setting";
import { read } from "./store";

const lineOf = (value: unknown): string => `${JSON.stringify(value)}\n`;

/**
 * Batches as they would be sent, each with a head signed now, then the photos: the server takes the file in as if
 * this tablet had sent it (its form: DEVELOPERS.md). Nothing here is changed by it; all of it is still sent later.
 */
export async function exportUnsent(): Promise<Blob> {
  const found = await sending();
  const pieces: BlobPart[] = [lineOf({ loupebook: "unsent", v: 1, station: found?.station.station ?? "", at: moment(settings().now()) })];
  let entries = 0;
  for (const chain of found?.chains ?? []) {
    for await (const rows of unsentBatches(chain)) {
      pieces.push(...(await batchPieces(chain, rows)));
      entries += rows.length;
    }
  }
  let photos = 0;
  for await (const photo of unsentPhotos()) {
    // One Blob a photo: the browser keeps it outside this page's memory.
    pieces.push(new Blob([lineOf({ photo: photo.sha256, type: photo.type, base64: base64(new Uint8Array(photo.bytes)) })]));
    photos += 1;
  }
  pieces.push(lineOf({ end: true, entries, photos }));
  return new Blob(pieces, { type: "application/x-ndjson" });
}

/** From the first entry without a receipt on: a chain's lines can only be placed one after the other. */
async function* unsentBatches({ chain }: SendingChain): AsyncGenerator<readonly EntryRow[]> {
  let next = await firstWaiting(chain);
  while (next !== undefined) {
    const rows = await batchFrom(chain, next);
    const last = rows.at(-1);
    if (last === undefined) return;
    yield rows;
    next = last.seq + 1;
  }
}

async function batchPieces({ chain, key }: SendingChain, rows: readonly EntryRow[]): Promise<readonly BlobPart[]> {
  const [first, last] = [rows[0], rows.at(-1)];
  if (first === undefined || last === undefined) return [];
  const sig = await signHead(key, chain, last.seq, last.hash);
  return [
    lineOf({ chain, from: first.seq, lines: rows.length }),
    ...rows.flatMap((row): BlobPart[] => [new Uint8Array(row.line), "\n"]),
    lineOf({ head: { seq: last.seq, hash: last.hash, sig } }),
  ];
}

/**
 * Photos without a receipt whose bytes can be read, one at a time. Hidden ones stay here: a file is carried by hand,
 * and whoever finds it could look at them. Their entries are in it; the bytes go when the tablet itself can send.
 */
async function* unsentPhotos(): AsyncGenerator<PhotoRow> {
  const held = await read(["held"], (tx) => tx.objectStore("held").index("waiting").getAll());
  const hidden = await hiddenPhotos();
  for (const { sha256, damaged } of held) {
    if (damaged !== undefined || hidden.has(sha256)) continue;
    const row = await read(["photos"], (tx) => tx.objectStore("photos").get(sha256)).catch(() => undefined);
    if (row !== undefined) yield row;
  }
}

/** In pieces, since one call takes only so many arguments. */
function base64(bytes: Uint8Array): string {
  let text = "";
  for (let at = 0; at < bytes.length; at += 0x8000) text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  return btoa(text);
}
