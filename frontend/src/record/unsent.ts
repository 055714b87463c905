/** All that has no receipt yet, as one file a person can carry: the last way out of a tablet that cannot send. */
import { read } from "./store";

/**
 * One line each, in the order of saving: the stored lines as they are, then `{"photo", "type", "base64"}` for
 * photos without a receipt. The lines keep their bytes, so a chain can be checked and taken in from the file.
 */
export function exportUnsent(): Promise<Blob> {
  return read(["entries", "held", "photos"], async (tx) => {
    const entries = await tx.objectStore("entries").index("waiting").getAll(IDBKeyRange.lowerBound([1, 0]));
    const held = await tx.objectStore("held").index("waiting").getAll();
    const photos = await Promise.all(held.map(({ sha256 }) => tx.objectStore("photos").get(sha256)));
    const lines: BlobPart[] = entries.flatMap((row) => [new Uint8Array(row.line), "\n"]);
    for (const photo of photos) {
      if (photo === undefined) continue;
      lines.push(JSON.stringify({ photo: photo.sha256, type: photo.type, base64: base64(new Uint8Array(photo.bytes)) }), "\n");
    }
    return new Blob(lines, { type: "application/x-ndjson" });
  });
}

/** In pieces, since one call takes only so many arguments. */
function base64(bytes: Uint8Array): string {
  let text = "";
  for (let at = 0; at < bytes.length; at += 0x8000) text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  return btoa(text);
}
