/** This tablet's own steps and concluded looks, the newest: known before the server's cards say so, and without a network. */
import type { Entry, Sha256 } from "./entry";
import { entryOf } from "./line";
import { metaIn } from "./meta";
import type { EntryRow } from "./schema";
import { read, type ReadTx } from "./store";
import { threadIn } from "./thread";

/** One entry of the cycle. `body` is that of its newest correction; `begun` is set for a concluded look. */
export interface OwnStep {
  readonly hash: Sha256;
  readonly kind: string;
  readonly chain: Sha256;
  readonly seq: number;
  /** The inspection part it ends, or its chain. */
  readonly thread: Sha256;
  readonly scope: string;
  /** Milliseconds since 1970 by the server's clock, as far as this tablet knew the difference. */
  readonly ms: number;
  readonly body: Entry["body"];
  readonly begun?: Entry["body"] | undefined;
}

export interface OwnSteps {
  readonly live: readonly OwnStep[];
  /** Those this tablet took back: what the cards still say of them no longer holds. */
  readonly gone: ReadonlySet<Sha256>;
}

const STEP_KINDS = ["scope.received", "scope.processed", "scope.hung", "scope.taken"];
/** Entries of this chain that are looked back through: some 40 inspections of a shift, or a day of steps alone. */
const MOST = 1_500;

type Tx = ReadTx<"meta" | "entries">;

/** Those of one scope, or the newest of this chain of any. */
export function ownSteps(scope?: string): Promise<OwnSteps> {
  return read(["meta", "entries"], async (tx) => {
    const rows = (await (scope === undefined ? newest(tx) : ofScope(tx, scope))).filter(inCycle);
    const steps = await Promise.all(rows.map((row) => stepOf(tx, row)));
    return {
      live: steps.flatMap((step) => (step.live === undefined ? [] : [step.live])),
      gone: new Set(steps.flatMap((step) => (step.live === undefined ? [step.hash] : []))),
    };
  });
}

async function newest(tx: Tx): Promise<readonly EntryRow[]> {
  const [chain, head] = await Promise.all([metaIn(tx, "chain"), metaIn(tx, "head")]);
  if (chain === undefined || head === undefined || head.seq === 0) return [];
  const range = IDBKeyRange.bound([chain.chain, Math.max(1, head.seq - MOST)], [chain.chain, head.seq]);
  return tx.objectStore("entries").getAll(range);
}

function ofScope(tx: Tx, scope: string): Promise<readonly EntryRow[]> {
  return tx.objectStore("entries").index("scope").getAll(IDBKeyRange.bound([scope, 0], [scope, Number.MAX_SAFE_INTEGER]));
}

function inCycle({ kind, scope }: EntryRow): boolean {
  return scope !== undefined && (kind === "inspection.concluded" || STEP_KINDS.includes(kind));
}

async function stepOf(tx: Tx, row: EntryRow): Promise<{ readonly hash: Sha256; readonly live?: OwnStep }> {
  const { state } = await threadIn(tx, row.thread);
  const live = state.live.find((each) => each.hash === row.hash);
  const { hash, kind, chain, seq, thread, scope = "" } = row;
  if (live === undefined) return { hash };
  const ahead = entryOf(row)?.clock?.ahead_ms ?? 0;
  const step: OwnStep = { hash, kind, chain, seq, thread, scope, ms: row.ms - ahead, body: live.body };
  return { hash, live: state.begun === null ? step : { ...step, begun: state.begun.body } };
}

/** Now by the server's clock, as far as this tablet knows the difference; ms since 1970. */
export async function serverNow(nowMs: number): Promise<number> {
  const clock = await read(["meta"], (tx) => metaIn(tx, "clock"));
  return nowMs - (clock?.ahead_ms ?? 0);
}
