/** What counts in one thread, read by index in the transaction that asks, remembered between saves. */
import { advance } from "../rules/chain";
import { NOTHING, type ThreadState } from "../rules/chain-state";
import type { Sha256 } from "./entry";
import { entryOf } from "./line";
import type { EntryRow } from "./schema";
import { onLost } from "./store";

/** A thread as far as `upto`, and the chain it was written in. */
export interface Thread {
  readonly chain: Sha256 | undefined;
  readonly upto: number;
  readonly state: ThreadState;
}

const EMPTY: Thread = { chain: undefined, upto: 0, state: NOTHING };

/** Entries are only ever appended, so a remembered state stays true for the seqs it covers. */
const remembered = new Map<Sha256, Thread>();
const MOST_REMEMBERED = 50;
onLost(() => remembered.clear());

interface ThreadReader {
  objectStore(name: "entries"): { index(name: "thread"): { getAll(range: IDBKeyRange): Promise<EntryRow[]> } };
}

export function threadRange(thread: Sha256, after = 0): IDBKeyRange {
  return IDBKeyRange.bound([thread, after + 1], [thread, Number.MAX_SAFE_INTEGER]);
}

/**
 * The state of a thread. This tablet counts all it wrote: each entry was judged when it was saved, and one
 * that the server puts aside (an unknown person, say) waits for a lead there; recording goes on here. A line that
 * rotted counts nowhere: the server puts it aside, and here what it said is recorded again.
 */
export async function threadIn(tx: ThreadReader, thread: Sha256): Promise<Thread> {
  const known = remembered.get(thread) ?? EMPTY;
  const rows = await tx.objectStore("entries").index("thread").getAll(threadRange(thread, known.upto));
  const last = rows.at(-1);
  if (last === undefined) return known;
  const state = rows.reduce((before, row) => {
    const entry = entryOf(row);
    return entry === undefined ? before : advance(before, entry, row.hash);
  }, known.state);
  const now = { chain: last.chain, upto: last.seq, state };
  remember(thread, now);
  return now;
}

function remember(thread: Sha256, now: Thread): void {
  remembered.delete(thread);
  remembered.set(thread, now);
  const oldest = remembered.keys().next();
  if (remembered.size > MOST_REMEMBERED && oldest.done !== true) remembered.delete(oldest.value);
}
