/** This tablet's own words about repairs: known before the server's cards say so, and without a network. */
import type { RepairWhat } from "../rules/repair";
import type { Entry, Sha256 } from "./entry";
import { readLine } from "./line";
import { metaIn } from "./meta";
import type { EntryRow } from "./schema";
import { read, type ReadTx } from "./store";
import { threadIn } from "./thread";

/** One word. `undone`: taken back, or corrected into something that says nothing of a repair. */
export interface OwnRepairWord {
  readonly hash: Sha256;
  readonly scope: string;
  readonly what: RepairWhat;
  readonly person: string;
  /** Milliseconds since 1970 by the server's clock, as far as this tablet knew the difference. */
  readonly ms: number;
  readonly repair: string;
  readonly basis: string;
  readonly undone: boolean;
  readonly said: Entry["body"];
  readonly inspections: readonly string[];
  /** What it ends, as its body says. */
  readonly over: readonly string[];
  /** Photos of the packed case. */
  readonly case: readonly string[];
}

const SAID: Readonly<Record<string, RepairWhat>> = {
  "repair.asked": "asked", "repair.decontaminated": "decontaminated", "repair.packed": "packed", "repair.shipped": "shipped",
  "repair.noted": "noted", "repair.returned": "returned", "loaner.received": "loaner_in", "loaner.noted": "loaner_noted",
  "loaner.sent_back": "loaner_out",
};
const KINDS: ReadonlySet<string> = new Set([...Object.keys(SAID), "reading.taken", "inspection.concluded"]);
const TESTS: ReadonlySet<string> = new Set(["leak_test", "leakage_current"]);
const FAILED: ReadonlySet<string> = new Set(["bubbles", "pressure_dropped", "over_limit"]);
const HELD: ReadonlySet<string> = new Set(["held", "within_limit"]);
/** Entries of this chain that are looked back through: some 40 inspections of a shift. */
const MOST = 1_500;

type Tx = ReadTx<"meta" | "entries" | "receipts">;

/** Those of one scope, or the newest of this chain of any; what the server put aside is not among them. */
export function ownRepairs(scope?: string): Promise<readonly OwnRepairWord[]> {
  return read(["meta", "entries", "receipts"], async (tx) => {
    const rows = (await (scope === undefined ? newest(tx) : ofScope(tx, scope))).filter(({ kind, scope: about }) => about !== undefined && KINDS.has(kind));
    return (await Promise.all(rows.map((row) => wordOf(tx, row)))).filter((word) => word !== undefined);
  });
}

async function newest(tx: Tx): Promise<readonly EntryRow[]> {
  const [chain, head] = await Promise.all([metaIn(tx, "chain"), metaIn(tx, "head")]);
  if (chain === undefined || head === undefined || head.seq === 0) return [];
  return tx.objectStore("entries").getAll(IDBKeyRange.bound([chain.chain, Math.max(1, head.seq - MOST)], [chain.chain, head.seq]));
}

function ofScope(tx: Tx, scope: string): Promise<readonly EntryRow[]> {
  return tx.objectStore("entries").index("scope").getAll(IDBKeyRange.bound([scope, 0], [scope, Number.MAX_SAFE_INTEGER]));
}

async function wordOf(tx: Tx, row: EntryRow): Promise<OwnRepairWord | undefined> {
  const receipt = await tx.objectStore("receipts").get([row.chain, row.seq]);
  if (receipt !== undefined && (receipt.state === "stray" || receipt.verdict !== "counted")) return undefined;
  const entry = readLine(row.line);
  const { state } = await threadIn(tx, row.thread);
  const live = state.live.find(({ hash }) => hash === row.hash);
  const now = live === undefined ? undefined : saidBy(row.kind, live.body);
  const said = now ?? saidBy(row.kind, entry.body);
  if (said === undefined) return undefined;
  const begun = entry.about.inspection;
  return {
    hash: row.hash, scope: row.scope ?? "", what: said.what, person: entry.person, ms: row.ms - (entry.clock?.ahead_ms ?? 0),
    repair: entry.about.repair ?? "", basis: entry.basis ?? "", undone: now === undefined, said: said.said,
    inspections: row.kind === "repair.asked" ? ((said.said["inspections"] ?? []) as readonly string[]) : begun === undefined ? [] : [begun],
    over: (said.said["over"] ?? []) as readonly string[],
    case: row.photos.filter(({ shows }) => shows === "case").map(({ sha256 }) => sha256),
  };
}

/** What a body says of a repair, as the server's fold reads it; undefined where it says nothing of one. */
function saidBy(kind: string, body: Entry["body"]): { readonly what: RepairWhat; readonly said: Entry["body"] } | undefined {
  if (kind === "reading.taken") {
    const [test, result] = [String(body["what"]), String(body["result"])];
    if (TESTS.has(test) && HELD.has(result)) return { what: "test_held", said: { what: test } as Entry["body"] };
    if (!TESTS.has(test) || !FAILED.has(result)) return undefined;
    const words = body["note"] === undefined ? {} : { words: body["note"] };
    return { what: "leak_test", said: { what: body["what"], result: body["result"], ...words } as Entry["body"] };
  }
  if (kind === "inspection.concluded") {
    const words = body["words"] === undefined ? {} : { words: body["words"] };
    return body["goes"] === "repair" ? { what: "concluded", said: { first: body["first"], goes: "repair", ...words } as Entry["body"] } : undefined;
  }
  const what = SAID[kind];
  if (what === undefined) return undefined;
  return { what: what === "asked" && body["phone"] !== undefined ? "by_phone" : what, said: body };
}
