/** What still has to go out, and writing down what came back. All of it lies in the store; nothing is remembered here. */
import { tell } from "./changed";
import type { Sha256 } from "./entry";
import { hashLine } from "./hash";
import { dropIfHiddenIn } from "./hidden";
import { metaIn, putMetaIn } from "./meta";
import { moment } from "./moment";
import type { BatchAnswer } from "./receipt";
import type { ChainRow, EntryRow, Epoch, HeldRow, StationRow } from "./schema";
import { noteReceived } from "./said";
import { settings } from "./setting";
import { read, write } from "./store";

export const MOST_LINES = 50;
/** A batch ends before this many bytes, so that a slow network gets an answer in time. */
export const MOST_BYTES = 256 * 1024;

/** A chain to send: the one written now first, then those that ended here and still hold unsent entries. */
export interface SendingChain extends ChainRow {
  readonly current: boolean;
}

export interface Sending {
  readonly station: StationRow;
  readonly chains: readonly SendingChain[];
  readonly epoch: Epoch | undefined;
}

/** The station and its chains, or undefined in a browser that is none. */
export function sending(): Promise<Sending | undefined> {
  return read(["meta"], async (tx) => {
    const [station, chain, old, epoch] = await Promise.all([
      metaIn(tx, "station"), metaIn(tx, "chain"), metaIn(tx, "old_chains"), metaIn(tx, "epoch"),
    ]);
    if (station === undefined || chain === undefined) return undefined;
    const chains = [{ ...chain, current: true }, ...(old ?? []).map((row) => ({ chain: row.chain, key: row.key, current: false }))];
    return { station, chains, epoch };
  });
}

function from(chain: Sha256, seq: number): IDBKeyRange {
  return IDBKeyRange.bound([chain, seq], [chain, Number.MAX_SAFE_INTEGER]);
}

/** The lowest seq of a chain without a receipt, or undefined. Entries wait in the order they were written. */
export function firstWaiting(chain: Sha256): Promise<number | undefined> {
  return read(["entries"], async (tx) => {
    let cursor = await tx.objectStore("entries").index("waiting").openCursor(IDBKeyRange.lowerBound([1, 0]));
    let first: number | undefined;
    while (cursor !== null) {
      const row = cursor.value;
      if (row.chain === chain && (first === undefined || row.seq < first)) first = row.seq;
      cursor = first === undefined ? await cursor.continue() : null;
    }
    return first;
  });
}

/** The hash this tablet has at a place of a chain; the chain's id at 0; undefined where it has none. */
export function hashAt(chain: Sha256, seq: number): Promise<Sha256 | undefined> {
  if (seq === 0) return Promise.resolve(chain);
  return read(["entries"], async (tx) => (await tx.objectStore("entries").get([chain, seq]))?.hash);
}

/** The next lines from a place on, in order, at most a batch. */
export function batchFrom(chain: Sha256, seq: number, most = MOST_LINES): Promise<readonly EntryRow[]> {
  return read(["entries"], async (tx) => {
    const rows = await tx.objectStore("entries").getAll(from(chain, seq), most);
    let bytes = 0;
    const fitting = rows.findIndex((row) => (bytes += row.line.length + 1) > MOST_BYTES);
    return fitting === -1 ? rows : rows.slice(0, Math.max(1, fitting));
  });
}

/** Writes receipts down: only now does an entry stop waiting. Photos the server wants are made to wait (again). */
export async function keepReceipts(chain: Sha256, answer: BatchAnswer): Promise<void> {
  const at = moment(settings().now());
  await write(["entries", "receipts", "held"], async (tx) => {
    const entries = tx.objectStore("entries");
    await Promise.all(
      answer.receipts.map(async (receipt) => {
        const row = await entries.get([chain, receipt.seq]);
        if (row === undefined || hashLine(row.line) !== receipt.hash) return;
        const { waiting: _sent, ...rest } = row;
        await Promise.all([
          entries.put(rest),
          tx.objectStore("receipts").put({ ...receipt, chain, epoch: answer.epoch.id, at }),
        ]);
      }),
    );
    await Promise.all(
      answer.wanted.map(async (sha256) => {
        const row = await tx.objectStore("held").get(sha256);
        if (row === undefined || row.freed !== undefined || row.waiting !== undefined) return;
        await tx.objectStore("held").put({ ...row, waiting: 1 });
      }),
    );
  });
  noteReceived(chain, answer.receipts.map(({ seq }) => seq));
  tell("receipts");
}

/** Photos without a receipt whose entry has one, the oldest first; damaged ones cannot be sent. */
export function waitingPhotos(): Promise<readonly HeldRow[]> {
  return read(["entries", "held"], async (tx) => {
    const rows = await tx.objectStore("held").index("waiting").getAll();
    const entries = await Promise.all(rows.map((row) => tx.objectStore("entries").get([row.chain, row.seq])));
    return rows.filter((row, at) => row.damaged === undefined && entries[at] !== undefined && entries[at].waiting === undefined);
  });
}

/** Writes a photo's receipt down. Its bytes stay until room is needed; those of a hidden photo go at once. */
export async function keepPhotoReceipt(sha256: Sha256, epoch: Epoch): Promise<void> {
  await write(["held", "photos", "cards"], async (tx) => {
    const row = await tx.objectStore("held").get(sha256);
    if (row === undefined) return;
    const { waiting: _sent, refused: _before, ...rest } = row;
    await tx.objectStore("held").put({ ...rest, receipt: { epoch: epoch.id, at: moment(settings().now()) } });
    await dropIfHiddenIn(tx, sha256);
  });
  tell("receipts");
}

/** The bytes no longer have their hash: told on the status page, tried no more, never taken out. */
export async function keepDamage(sha256: Sha256): Promise<void> {
  await changeHeld(sha256, (row) => ({ ...row, damaged: 1 }));
}

/** The server did not take it, and said why: shown on the status page; it stays here and is sent again. */
export async function keepRefusal(sha256: Sha256, code: string): Promise<void> {
  const known = await read(["held"], (tx) => tx.objectStore("held").get(sha256));
  if (known?.refused !== code) await changeHeld(sha256, (row) => ({ ...row, refused: code }));
}

/** Two leads erased this photo on the server: its bytes leave this tablet too, the entry that names it stays. */
export async function keepErased(sha256: Sha256): Promise<void> {
  await write(["held", "photos"], async (tx) => {
    const row = await tx.objectStore("held").get(sha256);
    await tx.objectStore("photos").delete(sha256);
    if (row === undefined) return;
    const { waiting: _sent, ...rest } = row;
    await tx.objectStore("held").put({ ...rest, freed: 1 });
  });
  tell("receipts");
}

async function changeHeld(sha256: Sha256, change: (row: HeldRow) => HeldRow): Promise<void> {
  await write(["held"], async (tx) => {
    const row = await tx.objectStore("held").get(sha256);
    if (row !== undefined) await tx.objectStore("held").put(change(row));
  });
  tell("receipts");
}

/** A newer epoch means the server was put back: everything still held here is offered again. */
export async function offerAllAgain(epoch: Epoch): Promise<void> {
  await write(["meta", "entries", "held"], async (tx) => {
    let entry = await tx.objectStore("entries").openCursor();
    while (entry !== null) {
      if (entry.value.waiting === undefined) await entry.update({ ...entry.value, waiting: 1 });
      entry = await entry.continue();
    }
    let held = await tx.objectStore("held").openCursor();
    while (held !== null) {
      const { value } = held;
      if (value.waiting === undefined && value.freed === undefined) await held.update({ ...value, waiting: 1 });
      held = await held.continue();
    }
    await putMetaIn(tx, "epoch", epoch);
  });
  tell("receipts");
}
