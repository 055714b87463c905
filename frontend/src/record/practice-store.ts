/** The practice store: filled with what an inspection needs, read from the record's own store and from nowhere else, and thrown away. */
import { deleteDB } from "idb";
import { makeKey } from "./keys";
import { metaIn, putMetaIn } from "./meta";
import { FLAG } from "./practice";
import type { CardRow, Meta, StationRow } from "./schema";
import { configureRecord, type RecordSetting } from "./setting";
import { closeStore, read, write } from "./store";

/** The record's own store never has this name. */
const PRACTICE_STORE = "loupebook-practice";
/** What the record is told where this window practises: another store, an address nobody has, a fetch that never asks. */
const PRACTICE_SETTING: Pick<RecordSetting, "store" | "base" | "fetch"> = {
  store: PRACTICE_STORE,
  base: "practice:",
  fetch: () => Promise.reject(new TypeError("practice sends nothing")),
};
/** Held by a window for as long as it practises: nobody else then throws its store away. */
const LOCK = PRACTICE_STORE;

interface Lent {
  readonly station: StationRow | undefined;
  readonly pinned: Meta["pinned"] | undefined;
  readonly pins: readonly (readonly [string, string])[];
  readonly cards: readonly CardRow[];
}

/** Rows of the record's own store, in one transaction that cannot write. */
function lent(tables: readonly string[]): Promise<Lent> {
  return read(["meta", "pins", "cards"], async (tx) => {
    const pins = tx.objectStore("pins");
    const [station, pinned, names, texts, cards] = await Promise.all([
      metaIn(tx, "station"), metaIn(tx, "pinned"), pins.getAllKeys(), pins.getAll(),
      Promise.all(tables.map((table) => tx.objectStore("cards").getAll(IDBKeyRange.bound([table], [table, []])))),
    ]);
    return { station, pinned, pins: names.map((name, at) => [name, texts[at] ?? ""] as const), cards: cards.flat() };
  });
}

/**
 * Turns this window from the record's own store to the practice store, and makes that anew where it is empty:
 * catalogue, policy and the tables named, with `extra` rows, a chain nobody knows and a station without a token.
 * `of` says what becomes of a lent row; undefined leaves it out.
 */
export async function beginPractice(
  tables: readonly string[], of: (row: CardRow, station: string) => CardRow | undefined, extra: readonly CardRow[],
): Promise<void> {
  void navigator.locks?.request(LOCK, () => new Promise(() => undefined));
  const { station, pinned, pins, cards } = await lent(tables);
  await closeStore();
  configureRecord(PRACTICE_SETTING);
  const { key, chain } = await makeKey();
  const mine = station?.station ?? "practice";
  await write(["meta", "pins", "cards"], async (tx) => {
    if ((await metaIn(tx, "chain")) !== undefined) return;
    await Promise.all([
      putMetaIn(tx, "station", { station: mine, token: "", facility: station?.facility }),
      putMetaIn(tx, "chain", { chain, key }),
      ...(pinned === undefined ? [] : [putMetaIn(tx, "pinned", pinned)]),
      ...pins.map(([sha256, text]) => tx.objectStore("pins").put(text, sha256)),
      ...[...cards.flatMap((row) => of(row, mine) ?? []), ...extra].map((row) => tx.objectStore("cards").put(row)),
    ]);
  });
}

/** Whether this window practises from its next load on, and who. */
export function keepPractising(person: string | undefined): void {
  if (person === undefined) sessionStorage.removeItem(FLAG);
  else sessionStorage.setItem(FLAG, person);
}

/** Throws the practice store of this window away. */
export async function endPractice(): Promise<void> {
  await closeStore();
  await deleteDB(PRACTICE_STORE);
}

/** Throws away what a practice left that was cut off; leaves it where another window is practising now. */
export async function clearLeftPractice(): Promise<void> {
  const end = (): Promise<void> => deleteDB(PRACTICE_STORE);
  const locks = globalThis.navigator?.locks as LockManager | undefined;
  if (locks === undefined) return end();
  await locks.request(LOCK, { ifAvailable: true }, async (held) => {
    if (held !== null) await end();
  });
}
