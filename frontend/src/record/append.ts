/**
 * The only way to write. An entry, its photos and the new head are stored in one strict transaction that also
 * reads the old head and asks the chain rules: no lock, two windows safe. Nothing but the store is awaited inside.
 */
import { advance, judge } from "../rules/chain";
import { NOTHING, type ThreadState } from "../rules/chain-state";
import { tell } from "./changed";
import type { Clock, Entry, NewEntryOf, NewPhoto, PhotoName, Saved, Sha256, StationKind } from "./entry";
import { hashLine, sha256Hex } from "./hash";
import { hideIn } from "./hidden";
import { plain, writeLine } from "./line";
import { metaIn, putMetaIn } from "./meta";
import { moment } from "./moment";
import { isNoRoom, makeRoom } from "./no-room";
import { askToPersist } from "./persist";
import { pinIn } from "./pins";
import type { ChainRow, EntryRow, Head, PhotoRow } from "./schema";
import { noteSaved } from "./said";
import { settings } from "./setting";
import { read, write, type WriteTx } from "./store";
import { threadIn } from "./thread";
import { NoRoom, NotEnrolled, PhotoDamaged, Refused } from "./trouble";
import { mayRecordHere } from "./where";

type AnyNew = NewEntryOf<StationKind>;

/**
 * Saves one entry. Answers when it and its photos are durable on this tablet and the photos read back with
 * their own hash: the moment "Saved on this tablet" may be said. Raises Refused, NoRoom, PhotoDamaged,
 * NotEnrolled, PlainTab, BadEntry, StoreUnusable.
 */
export async function append<K extends StationKind>(what: NewEntryOf<K>): Promise<Saved> {
  mayRecordHere();
  askToPersist();
  const saved = await storeOrMakeRoom(what);
  const damaged = await readBack(what.photos ?? []).finally(() => tell("entries"));
  if (what.kind === "photo.restricted") tell("cards");
  if (damaged.length > 0) throw new PhotoDamaged(saved, damaged);
  return saved;
}

async function storeOrMakeRoom(what: AnyNew): Promise<Saved> {
  const photos = what.photos ?? [];
  try {
    return await store(what);
  } catch (cause) {
    if (!isNoRoom(cause, photos.length > 0)) throw cause;
  }
  const bytes = photos.reduce((sum, photo) => sum + photo.bytes.byteLength, 0);
  if ((await makeRoom(bytes)).length > 0) {
    try {
      return await store(what);
    } catch (cause) {
      if (!isNoRoom(cause, photos.length > 0)) throw cause;
    }
  }
  return keepWithoutPhotos(what, photos.map((photo) => photo.sha256));
}

/** The last resort of a full tablet: the words are kept, and it is said which photos were not. */
async function keepWithoutPhotos(what: AnyNew, notKept: readonly Sha256[]): Promise<never> {
  let kept: Saved | undefined;
  try {
    kept = notKept.length === 0 ? undefined : await store({ ...what, photos: [] });
  } catch (cause) {
    if (!(cause instanceof Refused) && !isNoRoom(cause, false)) throw cause;
  }
  if (kept === undefined) throw new NoRoom(notKept);
  tell("entries");
  throw new NoRoom(notKept, kept);
}

const STORES = ["meta", "entries", "photos", "held", "drafts", "pins", "open", "cards"] as const;
type Tx = WriteTx<(typeof STORES)[number]>;

async function store(what: AnyNew): Promise<Saved> {
  const saved = await write(STORES, (tx) => storeIn(tx, what));
  const { scope } = what.about;
  noteSaved(saved.chain, { seq: saved.seq, kind: what.kind, at: saved.at, ...(scope === undefined ? {} : { scope }) });
  return saved;
}

async function storeIn(tx: Tx, what: AnyNew): Promise<Saved> {
  const [chain, head, clock] = await Promise.all([metaIn(tx, "chain"), metaIn(tx, "head"), metaIn(tx, "clock")]);
  if (chain === undefined) throw new NotEnrolled();
  const entry = compose(what, chain, head ?? { seq: 0, hash: chain.chain }, clock ?? null);
  const line = writeLine(entry);
  const hash = hashLine(line);
  const thread = threadOf(entry, hash);
  const { before, after } = await judged(tx, entry, hash, thread);
  const puts = [
    tx.objectStore("entries").add(rowOf(entry, line, hash, thread)),
    putMetaIn(tx, "head", { seq: entry.seq, hash }),
    ...(what.photos ?? []).flatMap((photo) => putPhoto(tx, photo, entry)),
    ...keepOpen(tx, entry, thread, before, after),
    ...(entry.kind === "photo.restricted" ? [hideIn(tx, String(entry.body["photo"]), hash)] : []),
    ...(what.draft === undefined ? [] : [tx.objectStore("drafts").delete(what.draft)]),
  ];
  await Promise.all(puts);
  return { hash, chain: entry.chain, seq: entry.seq, at: entry.at, photos: entry.photos.map((photo) => photo.sha256) };
}

function compose(what: AnyNew, { chain }: ChainRow, head: Head, clock: Clock | null): Entry {
  const { build, now } = settings();
  return {
    v: 1,
    chain,
    seq: head.seq + 1,
    prev: head.hash,
    kind: what.kind,
    at: moment(now()),
    clock,
    person: what.by.person,
    proof: what.by.proof,
    build,
    about: what.about,
    ...(what.basis === undefined ? {} : { basis: what.basis }),
    body: plain(what.body) as Entry["body"],
    photos: (what.photos ?? []).map(nameOf),
  };
}

function nameOf({ sha256, bytes, type, width, height, shows, taken }: NewPhoto): PhotoName {
  return { sha256, bytes: bytes.byteLength, type, width, height, shows, ...(taken === undefined ? {} : { taken }) };
}

function threadOf(entry: Entry, hash: Sha256): Sha256 {
  if (entry.kind === "inspection.begun") return hash;
  return entry.about.inspection ?? entry.chain;
}

function rowOf(entry: Entry, line: Uint8Array<ArrayBuffer>, hash: Sha256, thread: Sha256): EntryRow {
  const { chain, seq, kind, at, photos } = entry;
  const scope = entry.about.scope === undefined ? {} : { scope: entry.about.scope };
  return { chain, seq, hash, line, kind, at, ms: settings().now().getTime(), thread, ...scope, photos, waiting: 1 };
}

/** The thread's state before and after this entry; raises Refused where the rules say no. */
async function judged(tx: Tx, entry: Entry, hash: Sha256, thread: Sha256): Promise<{ before: ThreadState; after: ThreadState }> {
  const before = thread === hash ? NOTHING : await ownThread(tx, thread, entry.chain);
  const catalogue = before.begun?.body["catalogue"] ?? entry.body["catalogue"];
  const pin = typeof catalogue === "string" ? await pinIn(tx, catalogue) : undefined;
  const verdict = judge(before, entry, hash, (sha256) => (sha256 === catalogue ? pin : undefined));
  if (verdict.verdict === "aside") throw new Refused(verdict.reason);
  return { before, after: advance(before, entry, hash) };
}

/** A thread of another chain (this tablet's before a fork) says nothing here: it is continued by a new part. */
async function ownThread(tx: Tx, thread: Sha256, chain: Sha256): Promise<ThreadState> {
  const found = await threadIn(tx, thread);
  return found.chain === chain ? found.state : NOTHING;
}

function putPhoto(tx: Tx, photo: NewPhoto, { chain, seq }: Entry): Promise<unknown>[] {
  const { sha256, bytes, type } = photo;
  const ms = settings().now().getTime();
  return [
    tx.objectStore("photos").put({ sha256, bytes, type }),
    tx.objectStore("held").put({ sha256, bytes: bytes.byteLength, chain, seq, ms, waiting: 1 }),
  ];
}

/** Keeps the list of inspection parts that are not closed. */
function keepOpen(tx: Tx, entry: Entry, thread: Sha256, before: ThreadState, after: ThreadState): Promise<unknown>[] {
  if (after.begun === null) return [];
  const open = tx.objectStore("open");
  if (isClosed(after)) return [open.delete(thread)];
  const reopened = isClosed(before);
  if (entry.kind !== "inspection.begun" && !reopened) return [];
  const { chain, seq, at } = entry;
  const { continues } = after.begun.body;
  return [open.put({
    begun: thread, chain, seq, scope: entry.about.scope ?? "", at,
    ...(typeof continues === "string" ? { root: continues } : {}), ...(reopened ? { reopened: 1 } : {}),
  })];
}

function isClosed({ facts }: ThreadState): boolean {
  return (facts["closed"] ?? []).length > 0;
}

/** The photos that do not read back with their own hash; each is hashed as soon as it is read. */
async function readBack(photos: readonly NewPhoto[]): Promise<readonly Sha256[]> {
  if (photos.length === 0) return [];
  const sound = await read(["photos"], (tx) => Promise.all(photos.map(({ sha256 }) => isSound(tx.objectStore("photos"), sha256))));
  return photos.filter((_, at) => sound[at] !== true).map((photo) => photo.sha256);
}

async function isSound(photos: { get(sha256: Sha256): Promise<PhotoRow | undefined> }, sha256: Sha256): Promise<boolean> {
  const row = await photos.get(sha256).catch(() => undefined);
  return row !== undefined && (await sha256Hex(row.bytes)) === sha256;
}
