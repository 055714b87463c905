/** What screens read of this tablet's own record. Everything comes from the store, by index. */
import type { Catalogue } from "../rules/chain-catalogue";
import { due, notLooked, routeOf } from "../rules/chain-guards";
import { markOf, type PartMark, type ThreadState } from "../rules/chain-state";
import type { Entry, Sha256 } from "./entry";
import { isHiddenIn } from "./hidden";
import { entryOf } from "./line";
import { metaIn } from "./meta";
import { pinIn } from "./pins";
import type { EntryRow, HeldRow, ReceiptRow } from "./schema";
import { read, type ReadTx } from "./store";
import { threadIn, threadRange } from "./thread";

/** How far an entry has come; `aside` = on the server, but a lead must settle it. */
export type Way = "saved_here" | "on_server" | "aside" | "stray";

export interface RecordedEntry {
  readonly hash: Sha256;
  /** Of a rotten line only what its row says beside it: kind, time, scope, photos. */
  readonly entry: Entry;
  /** Its bytes are no longer those that were written: it can be shown as an entry of its kind, and no more. */
  readonly rotten: boolean;
  readonly way: Way;
  readonly reason?: string;
  /** Whether it counts in its thread; false = withdrawn, or an `entry.withdrawn` or `entry.corrected` itself. */
  readonly live: boolean;
  /** Its photos that have no receipt yet. */
  readonly photosWaiting: readonly Sha256[];
}

/** One inspection part of this tablet. */
export interface InspectionState {
  readonly begun: Sha256;
  /** Hash that names the whole inspection: `continues` of the begun entry, or its own. */
  readonly root: Sha256;
  /** The chain it is written in; once that has ended here, it goes on in a part of the new one. */
  readonly chain: Sha256;
  readonly scope: string;
  readonly scopeKind: string;
  readonly point: string;
  readonly practice: boolean;
  readonly catalogue: Catalogue | undefined;
  readonly policy: Sha256;
  readonly thread: ThreadState;
  readonly serial: boolean;
  readonly closed: boolean;
  /** Parts and channels due, in the order of the route. */
  readonly due: readonly string[];
  /** The mark that counts, by part; a part that is not named has not been looked at. */
  readonly marks: Readonly<Record<string, PartMark>>;
  readonly notLooked: readonly string[];
  readonly entries: readonly RecordedEntry[];
}

type Tx = ReadTx<"meta" | "entries" | "held" | "receipts" | "pins">;
const STORES = ["meta", "entries", "held", "receipts", "pins"] as const;

/** The inspection part begun by this entry, or undefined where this tablet did not write it. */
export function inspectionState(begun: Sha256): Promise<InspectionState | undefined> {
  return read(STORES, async (tx) => {
    const rows = await tx.objectStore("entries").index("thread").getAll(threadRange(begun));
    if (rows.length === 0) return undefined;
    const thread = (await threadIn(tx, begun)).state;
    if (thread.begun === null) return undefined;
    const catalogue = (await pinIn(tx, String(thread.begun.body["catalogue"]))) as Catalogue | undefined;
    const live = new Set(thread.live.map((entry) => entry.hash));
    const entries = await Promise.all(rows.map((row) => recorded(tx, row, live)));
    return shown(begun, thread, catalogue, entries);
  });
}

function shown(
  begun: Sha256,
  thread: ThreadState,
  catalogue: Catalogue | undefined,
  entries: readonly RecordedEntry[],
): InspectionState {
  const body = thread.begun?.body ?? {};
  const route = routeOf(thread, () => catalogue);
  const marks: Record<string, PartMark> = {};
  for (const part of Object.keys(thread.marks)) {
    const mark = markOf(thread, part);
    if (mark !== undefined) marks[part] = mark;
  }
  const has = (fact: string): boolean => (thread.facts[fact] ?? []).length > 0;
  return {
    begun,
    root: typeof body["continues"] === "string" ? body["continues"] : begun,
    chain: entries[0]?.entry.chain ?? "",
    scope: entries[0]?.entry.about.scope ?? "",
    scopeKind: String(body["scope_kind"]),
    point: String(body["point"]),
    practice: body["practice"] === true,
    catalogue,
    policy: String(body["policy"]),
    thread,
    serial: has("serial"),
    closed: has("closed"),
    due: route === undefined ? [] : due(route),
    marks,
    notLooked: route === undefined ? [] : notLooked(route, thread),
    entries,
  };
}

async function recorded(tx: Tx, row: EntryRow, live?: ReadonlySet<Sha256>): Promise<RecordedEntry> {
  const [receipt, ...held] = await Promise.all([
    tx.objectStore("receipts").get([row.chain, row.seq]),
    ...row.photos.map(({ sha256 }) => tx.objectStore("held").get(sha256)),
  ]);
  const waiting = held.filter((photo): photo is HeldRow => photo?.waiting !== undefined).map((photo) => photo.sha256);
  const entry = entryOf(row);
  return {
    hash: row.hash,
    entry: entry ?? rest(row),
    rotten: entry === undefined,
    way: wayOf(row, receipt),
    ...(receipt?.reason === undefined ? {} : { reason: receipt.reason }),
    live: entry !== undefined && (live?.has(row.hash) ?? true),
    photosWaiting: waiting,
  };
}

/** What a row says of its entry beside the line. */
function rest({ chain, seq, hash, kind, at, thread, scope, photos }: EntryRow): Entry {
  const inspection = thread === chain || thread === hash ? {} : { inspection: thread };
  const about = { ...(scope === undefined ? {} : { scope }), ...inspection };
  return { v: 1, chain, seq, prev: "", kind, at, clock: null, person: "", proof: { how: "named", where: "offline" }, build: "", about, body: {}, photos };
}

function wayOf(row: EntryRow, receipt: ReceiptRow | undefined): Way {
  if (receipt === undefined || row.waiting !== undefined) return "saved_here";
  if (receipt.state === "stray") return "stray";
  return receipt.verdict === "aside" ? "aside" : "on_server";
}

/** The newest entries of this tablet's chain, the last first; for undo and for the status page. */
export function lastEntries(most: number): Promise<readonly RecordedEntry[]> {
  return read(STORES, async (tx) => {
    const [chain, head] = await Promise.all([metaIn(tx, "chain"), metaIn(tx, "head")]);
    if (chain === undefined || head === undefined || head.seq === 0) return [];
    const from = Math.max(1, head.seq - most + 1);
    const rows = await tx.objectStore("entries").getAll(IDBKeyRange.bound([chain.chain, from], [chain.chain, head.seq]));
    const live = new Set<Sha256>();
    for (const thread of new Set(rows.map((row) => row.thread))) {
      for (const entry of (await threadIn(tx, thread)).state.live) live.add(entry.hash);
    }
    return Promise.all(rows.reverse().map((row) => recorded(tx, row, live)));
  });
}

/** The begun entries of this tablet on a scope, the newest first: its own inspections of it. */
export function partsOfScope(scope: string, most = 20): Promise<readonly RecordedEntry[]> {
  return read(STORES, async (tx) => {
    const range = IDBKeyRange.bound([scope, 0], [scope, Number.MAX_SAFE_INTEGER]);
    const rows = await tx.objectStore("entries").index("scope").getAll(range);
    const begun = rows.filter((row) => row.kind === "inspection.begun").slice(-most).reverse();
    return Promise.all(begun.map((row) => recorded(tx, row)));
  });
}

export function entryByHash(hash: Sha256): Promise<RecordedEntry | undefined> {
  return read(STORES, async (tx) => {
    const row = await tx.objectStore("entries").index("hash").get(hash);
    return row === undefined ? undefined : recorded(tx, row);
  });
}

/** A fresh copy of a photo's bytes as a Blob, or undefined where they are not (or no longer) here, or are hidden. */
export async function photoBytes(sha256: Sha256): Promise<Blob | undefined> {
  const row = await read(["photos", "cards"], async (tx) => ((await isHiddenIn(tx, sha256)) ? undefined : tx.objectStore("photos").get(sha256)));
  return row === undefined ? undefined : new Blob([new Uint8Array(row.bytes)], { type: row.type });
}
