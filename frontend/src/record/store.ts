/**
 * The browser's database: opened with a deadline, strict in every write, opened again once when lost.
 *
 * Measured: IndexedDB's default is relaxed and says `complete` before anything is flushed (Chromium: 0 syncs
 * in 100 transactions); strict flushes. So every write goes through `write`, and a test keeps it so. The first
 * waits for a new log (fresh-log.ts).
 */
import { deleteDB, type IDBPDatabase, type IDBPTransaction, openDB } from "idb";
import { freshLog } from "./fresh-log";
import { type Loupebook, type StoreName, VERSION } from "./schema";
import { settings } from "./setting";
import { StoreUnusable } from "./trouble";

type Db = IDBPDatabase<Loupebook>;
export type ReadTx<N extends StoreName> = IDBPTransaction<Loupebook, N[], "readonly">;
export type WriteTx<N extends StoreName> = IDBPTransaction<Loupebook, N[], "readwrite">;

/** `open` may hang for ever (an upgrade blocked by another window; an old Safari): then say so. */
export const OPEN_DEADLINE_MS = 5000;

let opening: Promise<Db> | undefined;
const lost = new Set<() => void>();

/** Calls `run` when the handle was dropped: whatever was remembered of the store must be read again. */
export function onLost(run: () => void): void {
  lost.add(run);
}

function dropHandle(): void {
  opening = undefined;
  for (const run of lost) run();
}

function makeStores(db: Db): void {
  db.createObjectStore("meta");
  const entries = db.createObjectStore("entries", { keyPath: ["chain", "seq"] });
  entries.createIndex("hash", "hash", { unique: true });
  entries.createIndex("thread", ["thread", "seq"]);
  entries.createIndex("scope", ["scope", "ms"]);
  entries.createIndex("waiting", ["waiting", "ms"]);
  db.createObjectStore("photos", { keyPath: "sha256" });
  const held = db.createObjectStore("held", { keyPath: "sha256" });
  held.createIndex("waiting", ["waiting", "ms"]);
  held.createIndex("damaged", "damaged");
  const receipts = db.createObjectStore("receipts", { keyPath: ["chain", "seq"] });
  receipts.createIndex("state", "state");
  receipts.createIndex("verdict", "verdict");
  db.createObjectStore("drafts", { keyPath: "id" });
  db.createObjectStore("cards", { keyPath: ["table", "id"] }).createIndex("words", "words", { multiEntry: true });
  db.createObjectStore("pins");
  db.createObjectStore("open", { keyPath: "begun" });
}

function open(): Promise<Db> {
  return new Promise<Db>((resolve, reject) => {
    let late = false;
    const timer = setTimeout(() => {
      late = true;
      reject(new StoreUnusable("slow_open"));
    }, OPEN_DEADLINE_MS);
    const opened = openDB<Loupebook>(settings().store, VERSION, {
      upgrade: makeStores,
      blocked: () => {
        late = true;
        reject(new StoreUnusable("blocked"));
      },
      blocking: (_now, _wanted, event) => {
        (event.target as IDBDatabase).close();
        dropHandle();
      },
      terminated: dropHandle,
    });
    opened.then(
      (db) => {
        clearTimeout(timer);
        if (late) return db.close();
        void freshLog();
        resolve(db);
      },
      (cause: unknown) => {
        clearTimeout(timer);
        const newer = cause instanceof DOMException && cause.name === "VersionError";
        reject(new StoreUnusable(newer ? "newer_store" : "no_store", { cause }));
      },
    );
  });
}

async function handle(): Promise<Db> {
  if (opening === undefined) {
    const now = open();
    opening = now;
    now.catch(() => {
      if (opening === now) opening = undefined;
    });
  }
  return opening;
}

/** A connection the browser closed behind our back: in the background, or under memory pressure. */
function isLost(cause: unknown): boolean {
  return cause instanceof DOMException && (cause.name === "InvalidStateError" || cause.name === "UnknownError");
}

/** Runs `act` with the handle; when the handle turns out lost, once more with a new one. */
async function withHandle<T>(act: (db: Db) => Promise<T>): Promise<T> {
  try {
    return await act(await handle());
  } catch (cause) {
    if (!isLost(cause)) throw cause;
    const old = opening;
    dropHandle();
    old?.then((db) => db.close(), () => undefined);
  }
  try {
    return await act(await handle());
  } catch (cause) {
    if (isLost(cause)) throw new StoreUnusable("lost", { cause });
    throw cause;
  }
}

/**
 * One strict read-write transaction. `act` may run twice (a lost handle) and must await nothing but requests
 * of `tx`. The answer is given only after `complete`. When `act` throws, everything is rolled back.
 */
export function write<N extends StoreName, T>(stores: readonly N[], act: (tx: WriteTx<N>) => Promise<T>): Promise<T> {
  return withHandle(async (db) => {
    await freshLog();
    const tx = db.transaction([...stores], "readwrite", { durability: "strict" });
    const done = tx.done.then(() => undefined, (cause: unknown) => ({ cause }));
    let result: T;
    try {
      result = await act(tx);
    } catch (cause) {
      const why = await undo(tx, done);
      throw why ?? cause;
    }
    const ended = await done;
    if (ended !== undefined) throw ended.cause;
    return result;
  });
}

/** Ends a transaction whose body failed. The browser's own reason (quota) is on the transaction, not the request. */
async function undo<N extends StoreName>(
  tx: WriteTx<N>,
  done: Promise<{ cause: unknown } | undefined>,
): Promise<DOMException | null> {
  try {
    tx.abort();
  } catch {
    // Already ended by the browser.
  }
  await done;
  return tx.error;
}

/** One read-only transaction. `act` may run twice. An abort is told by the request it broke, once. */
export function read<N extends StoreName, T>(stores: readonly N[], act: (tx: ReadTx<N>) => Promise<T>): Promise<T> {
  return withHandle(async (db) => {
    const tx = db.transaction([...stores], "readonly");
    tx.done.catch(() => undefined);
    return act(tx);
  });
}

/** Opens the store now; raises StoreUnusable. */
export async function openStore(): Promise<void> {
  await handle();
}

/** Closes the handle; the next use opens it again. */
export async function closeStore(): Promise<void> {
  const old = opening;
  dropHandle();
  (await old?.catch(() => undefined))?.close();
}

/** For tests only: removes the whole database. */
export async function deleteStore(): Promise<void> {
  await closeStore();
  await deleteDB(settings().store);
}
