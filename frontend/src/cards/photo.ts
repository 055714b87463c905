/** Last time's photo of a part: the small one, fetched when it is looked at and kept for when there is no network. */
import type { Sha256 } from "../record/entry";
import { sha256Hex } from "../record/hash";
import { meta } from "../record/meta";
import { settings } from "../record/setting";
import { photoBytes } from "../record/state";
import { read, write } from "../record/store";
import { scopeByKey } from "./look";
import type { LastLook } from "./rows";

export interface LastPhoto extends LastLook {
  /** Undefined where the bytes are not on this tablet and cannot be fetched now. */
  readonly bytes?: Blob;
}

const TABLE = "small_photos";

/** The newest photo of a part of a scope, as the cards brought it; undefined = none is known here. */
export async function lastPhotoOf(scope: string, part: string): Promise<LastPhoto | undefined> {
  const last = (await scopeByKey(scope))?.last?.[part];
  if (last === undefined) return undefined;
  const bytes = await smallPhoto(last.photo);
  return bytes === undefined ? last : { ...last, bytes };
}

/** A photo 640 px wide, or whole where this tablet took it. Undefined without a network, unless it was kept. */
export async function smallPhoto(sha256: Sha256): Promise<Blob | undefined> {
  return (await photoBytes(sha256)) ?? (await kept(sha256)) ?? (await fetched(sha256));
}

interface Kept {
  readonly bytes: ArrayBuffer;
  readonly type: string;
  /** Of the small photo's own bytes: a damaged file is fetched again. */
  readonly sha256: Sha256;
}

async function kept(sha256: Sha256): Promise<Blob | undefined> {
  const row = await read(["cards"], (tx) => tx.objectStore("cards").get([TABLE, sha256])).catch(() => undefined);
  const small = row?.row as Kept | undefined;
  if (small === undefined || (await sha256Hex(small.bytes)) !== small.sha256) return undefined;
  return new Blob([new Uint8Array(small.bytes)], { type: small.type });
}

const TIMEOUT_MS = 10_000;

async function fetched(sha256: Sha256): Promise<Blob | undefined> {
  const station = await meta("station");
  if (station === undefined) return undefined;
  const { base, fetch } = settings();
  try {
    const headers = { "X-Loupebook": "1", Authorization: `Station ${station.token}` };
    const response = await fetch(`${base}/photos/${sha256}?size=640`, {
      headers, cache: "no-store", credentials: "omit", redirect: "error", signal: AbortSignal.timeout(TIMEOUT_MS),
    });
    const type = response.headers.get("content-type") ?? "";
    if (response.status !== 200 || response.headers.get("x-loupebook") !== "1" || !type.startsWith("image/")) return undefined;
    const bytes = await response.arrayBuffer();
    await keep(sha256, { bytes, type, sha256: await sha256Hex(bytes) });
    return new Blob([bytes], { type });
  } catch {
    return undefined;
  }
}

/** A full tablet keeps no small photos: entries come first. */
async function keep(sha256: Sha256, small: Kept): Promise<void> {
  await write(["cards"], (tx) => tx.objectStore("cards").put({ table: TABLE, id: sha256, words: [], row: small })).catch(() => undefined);
}
