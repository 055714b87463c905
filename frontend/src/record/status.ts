/** What the corner and the status page say. Every number is read from the store when something changed; none is counted along. */
import { onChange } from "./changed";
import type { Sha256 } from "./entry";
import { metaIn } from "./meta";
import { Told, type Readable } from "./readable";
import { type Lost, lostOf } from "./said";
import type { ReceiptRow } from "./schema";
import { settings } from "./setting";
import { openStore, read } from "./store";
import { type StoreProblem, StoreUnusable } from "./trouble";
import { isPlainTab, surroundings } from "./where";
import type { TroubleWords } from "./wire";

/**
 * Why nothing (or not all) is sent; everything stays here.
 * `not_known` the server does not know this station's token: enrol again · `withdrawn` a lead withdrew this
 * station: it still sends, and sees no cards · `epoch_back` the server is older than it was: ask the operator ·
 * `no_key` this browser lost its key: enrol again.
 */
export type Stopped = "not_known" | "withdrawn" | "epoch_back" | "no_key";

export interface AsideEntry {
  readonly chain: Sha256;
  readonly seq: number;
  readonly hash: Sha256;
  readonly reason: string;
}

export interface Status {
  /** `checking` until the store has answered once. */
  readonly store: "checking" | "usable" | StoreProblem;
  readonly enrolled: boolean;
  /** True in a plain iPadOS browser tab: nothing is recorded here. */
  readonly plainTab: boolean;
  /** What was said to be saved here and is not here any more: told before anything else is done. */
  readonly lost: Lost | undefined;
  readonly chain: Sha256 | undefined;
  readonly head: { readonly seq: number; readonly hash: Sha256 } | undefined;
  /** Entries without a receipt, and photos without one. */
  readonly unsent: number;
  readonly unsentPhotos: number;
  /** When the oldest of both was saved, ms since 1970 of this tablet's clock. */
  readonly oldestUnsentMs: number | undefined;
  readonly aside: readonly AsideEntry[];
  /** Lines of a chain that forked: kept whole on the server, a lead is told. */
  readonly strays: number;
  /** Photos whose bytes no longer have their hash: they cannot be sent. */
  readonly damagedPhotos: readonly Sha256[];
  /** A valid receipt or head answer came in the last 60 s; never the browser's own word. */
  readonly online: boolean;
  readonly lastAnswerMs: number | undefined;
  readonly sending: boolean;
  readonly stopped: Stopped | undefined;
  /** What the server would not have in the last round, in its own words; the rest went on. */
  readonly refusal: TroubleWords | undefined;
  /** That was of the chain this tablet writes now: what is recorded next waits behind it, unless it goes on in a new one. */
  readonly refusedChain: boolean;
  /** Whether the browser promised to keep this origin's storage; undefined = not asked yet. */
  readonly persisted: boolean | undefined;
  /** How far this tablet's clock is ahead of the server's. */
  readonly aheadMs: number | undefined;
}

export const ONLINE_FOR_MS = 60_000;

const told = new Told<Status>({
  store: "checking", enrolled: false, plainTab: false, lost: undefined, chain: undefined, head: undefined, unsent: 0, unsentPhotos: 0,
  oldestUnsentMs: undefined, aside: [], strays: 0, damagedPhotos: [], online: false, lastAnswerMs: undefined,
  sending: false, stopped: undefined, refusal: undefined, refusedChain: false, persisted: undefined, aheadMs: undefined,
});

/** The status of this tablet's record. */
export const status: Readable<Status> = told;

let fading: ReturnType<typeof setTimeout> | undefined;

/** The sender's own news; the numbers come from the store. */
export function tellStatus(change: Partial<Pick<Status, "lastAnswerMs" | "sending" | "stopped" | "refusal" | "refusedChain">>): void {
  const next = { ...told.value, ...change };
  told.set({ ...next, online: isOnline(next.lastAnswerMs) });
  if (change.lastAnswerMs === undefined) return;
  clearTimeout(fading);
  fading = setTimeout(() => told.set({ ...told.value, online: isOnline(told.value.lastAnswerMs) }), ONLINE_FOR_MS + 1);
}

function isOnline(lastAnswerMs: number | undefined): boolean {
  return lastAnswerMs !== undefined && settings().now().getTime() - lastAnswerMs <= ONLINE_FOR_MS;
}

/** True when the store opens; the reason is in `status`. */
export async function isStoreUsable(): Promise<boolean> {
  await refreshStatus();
  return told.value.store === "usable";
}

let running: Promise<void> | undefined;
let again = false;

/** Reads the numbers anew. Calls that come meanwhile are answered by one more reading. */
export function refreshStatus(): Promise<void> {
  if (running !== undefined) {
    again = true;
    return running;
  }
  running = (async () => {
    do {
      again = false;
      await readOnce();
    } while (again);
  })().finally(() => (running = undefined));
  return running;
}

async function readOnce(): Promise<void> {
  try {
    await openStore();
    const numbers = await readNumbers();
    told.set({ ...told.value, ...numbers, store: "usable", plainTab: isPlainTab(surroundings()) });
  } catch (cause) {
    const problem = cause instanceof StoreUnusable ? cause.problem : "lost";
    told.set({ ...told.value, store: problem, plainTab: isPlainTab(surroundings()) });
  }
}

type Numbers = Omit<Status, "store" | "plainTab" | "online" | "lastAnswerMs" | "sending" | "stopped" | "refusal" | "refusedChain">;

/** The lowest of what waits, by the clock of its save. `get` of a range answers its first. */
const first = (): IDBKeyRange => IDBKeyRange.lowerBound([1, 0]);

function readNumbers(): Promise<Numbers> {
  return read(["meta", "entries", "held", "receipts"], async (tx) => {
    const [entries, held, receipts] = [tx.objectStore("entries"), tx.objectStore("held"), tx.objectStore("receipts")];
    const [chain, head, clock, persisted, unsent, unsentPhotos, oldestEntry, oldestPhoto, damaged, aside, strays, old] = await Promise.all([
      metaIn(tx, "chain"), metaIn(tx, "head"), metaIn(tx, "clock"), metaIn(tx, "persisted"),
      entries.index("waiting").count(), held.index("waiting").count(),
      entries.index("waiting").get(first()), held.index("waiting").get(first()), held.index("damaged").getAllKeys(),
      receipts.index("verdict").getAll("aside"), receipts.index("state").count("stray"), metaIn(tx, "old_chains"),
    ]);
    const oldest = [oldestEntry?.ms, oldestPhoto?.ms].filter((ms) => ms !== undefined);
    return {
      enrolled: chain !== undefined, lost: lostOf(chain?.chain, head, old), chain: chain?.chain, head, unsent, unsentPhotos,
      oldestUnsentMs: oldest.length === 0 ? undefined : Math.min(...oldest),
      aside: aside.filter((row) => row.state !== "stray").map(asideOf), strays, damagedPhotos: damaged, persisted, aheadMs: clock?.ahead_ms,
    };
  });
}

function asideOf({ chain, seq, hash, reason }: ReceiptRow): AsideEntry {
  return { chain, seq, hash, reason: reason ?? "" };
}

onChange((thing) => {
  if (thing !== "drafts" && thing !== "cards") void refreshStatus();
});
