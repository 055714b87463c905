/**
 * Photos that may show a person or patient data: which are hidden on this tablet, and their bytes leaving it.
 *
 * A photo is hidden here while the server says so, and from the moment this tablet's own entry hides it until the
 * server names that entry as ended by a lead. Only the sender reads the bytes of a hidden photo, until its receipt.
 */
import type { Sha256 } from "./entry";
import type { CardRow, HeldRow } from "./schema";
import { read } from "./store";

const HIDDEN = "hidden";
/** The small pictures of last time that lie with the cards. */
const SMALL = "then";

/** What the server says of a photo's hiding, and this tablet's own entries that hide it. */
export interface HiddenCard {
  readonly photo: Sha256;
  readonly hidden: boolean;
  /** Entries that hid it, and a lead's later entry ended. */
  readonly ended: readonly Sha256[];
  readonly own?: readonly Sha256[];
}

/** Any transaction with `cards` in its scope; to write, with `cards`, `held` and `photos`. */
interface CardReader {
  objectStore(name: "cards"): { get(key: [string, string]): Promise<CardRow | undefined> };
}
interface Writer {
  objectStore(name: "cards"): {
    get(key: [string, string]): Promise<CardRow | undefined>;
    getAll(range: IDBKeyRange): Promise<CardRow[]>;
    put(row: CardRow): Promise<unknown>;
    delete(key: [string, string]): Promise<unknown>;
  };
  objectStore(name: "held"): { get(key: Sha256): Promise<HeldRow | undefined>; put(row: HeldRow): Promise<unknown> };
  objectStore(name: "photos"): { delete(key: Sha256): Promise<unknown> };
}

export function hidesNow(row: HiddenCard | undefined): boolean {
  return row !== undefined && (row.hidden || (row.own ?? []).some((entry) => !row.ended.includes(entry)));
}

export async function isHiddenIn(tx: CardReader, photo: Sha256): Promise<boolean> {
  return hidesNow(cardOf(await tx.objectStore("cards").get([HIDDEN, photo])));
}

/** Every photo that is hidden on this tablet. */
export async function hiddenPhotos(): Promise<ReadonlySet<Sha256>> {
  const rows = await read(["cards"], (tx) => tx.objectStore("cards").getAll(IDBKeyRange.bound([HIDDEN], [HIDDEN, []])));
  return new Set(rows.map(cardOf).filter((row) => hidesNow(row)).map((row) => row!.photo));
}

/** An entry of this tablet hides it: in the transaction of that entry. */
export async function hideIn(tx: Writer, photo: Sha256, entry: Sha256): Promise<void> {
  const known = cardOf(await tx.objectStore("cards").get([HIDDEN, photo]));
  const { hidden = false, ended = [], own = [] } = known ?? {};
  await put(tx, { photo, hidden, ended, own: [...own, entry] });
}

/** What the server says, with what this tablet hid itself; a whole answer replaces the rest. */
export async function keepHiddenIn(tx: Writer, told: readonly HiddenCard[], whole: boolean): Promise<void> {
  const cards = tx.objectStore("cards");
  const before = new Map((await cards.getAll(IDBKeyRange.bound([HIDDEN], [HIDDEN, []]))).map((row) => [row.id, cardOf(row)!]));
  for (const row of told) {
    const own = before.get(row.photo)?.own;
    before.delete(row.photo);
    await put(tx, own === undefined ? row : { ...row, own });
  }
  if (!whole) return;
  for (const { photo, own } of before.values()) {
    if (own === undefined) await cards.delete([HIDDEN, photo]);
    else await put(tx, { photo, hidden: false, ended: [], own });
  }
}

async function put(tx: Writer, row: HiddenCard): Promise<void> {
  await tx.objectStore("cards").put({ table: HIDDEN, id: row.photo, words: [], row });
  if (hidesNow(row)) await Promise.all([tx.objectStore("cards").delete([SMALL, row.photo]), dropIn(tx, row.photo)]);
}

/** The bytes of a hidden photo leave as soon as the server has them, without waiting for room to be needed. */
async function dropIn(tx: Writer, photo: Sha256): Promise<void> {
  const held = await tx.objectStore("held").get(photo);
  if (held?.receipt === undefined || held.waiting !== undefined) return;
  await Promise.all([tx.objectStore("photos").delete(photo), tx.objectStore("held").put({ ...held, freed: 1 })]);
}

/** After a receipt: the bytes go where the photo is hidden. */
export async function dropIfHiddenIn(tx: Writer, photo: Sha256): Promise<void> {
  if (await isHiddenIn(tx, photo)) await dropIn(tx, photo);
}

function cardOf(row: CardRow | undefined): HiddenCard | undefined {
  return row?.row as HiddenCard | undefined;
}
