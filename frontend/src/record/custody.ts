/** This tablet's own words of who has a scope: known before the server's cards say so, and without a network. */
import type { Entry, Sha256 } from "./entry";
import { entryOf } from "./line";
import type { EntryRow } from "./schema";
import { read, type ReadTx } from "./store";
import { threadIn } from "./thread";

/** One word, or the taking back of one. `body` is that of its newest correction. */
export interface OwnWord {
  readonly hash: Sha256;
  readonly chain: Sha256;
  readonly seq: number;
  readonly kind: "custody.offered" | "custody.accepted" | "custody.declined" | "custody.returned" | "entry.withdrawn";
  /** What it builds on; of a taking back, what it takes back. Empty where it builds on nothing. */
  readonly basis: string;
  readonly person: string;
  /** Milliseconds since 1970 by the server's clock, as far as this tablet knew the difference. */
  readonly ms: number;
  readonly body: Entry["body"];
}

type Tx = ReadTx<"entries" | "receipts">;

/** Those of one scope; what the server put aside is not among them. */
export function ownCustody(scope: string): Promise<readonly OwnWord[]> {
  return read(["entries", "receipts"], async (tx) => {
    const range = IDBKeyRange.bound([scope, 0], [scope, Number.MAX_SAFE_INTEGER]);
    const rows = (await tx.objectStore("entries").index("scope").getAll(range)).filter(({ kind }) => kind.startsWith("custody.") || kind === "entry.withdrawn");
    const words = (await Promise.all(rows.map((row) => wordOf(tx, row)))).filter((word) => word !== undefined);
    const said = new Set(words.filter(({ kind }) => kind !== "entry.withdrawn").map(({ hash }) => hash));
    return words.filter(({ kind, basis }) => kind !== "entry.withdrawn" || said.has(basis));
  });
}

async function wordOf(tx: Tx, row: EntryRow): Promise<OwnWord | undefined> {
  const receipt = await tx.objectStore("receipts").get([row.chain, row.seq]);
  if (receipt !== undefined && (receipt.state === "stray" || receipt.verdict !== "counted")) return undefined;
  const entry = entryOf(row);
  if (entry === undefined) return undefined;
  const ms = row.ms - (entry.clock?.ahead_ms ?? 0);
  const kind = row.kind as OwnWord["kind"];
  const own = { hash: row.hash, chain: row.chain, seq: row.seq, kind, person: entry.person, ms };
  if (kind === "entry.withdrawn") return { ...own, basis: String(entry.body["entry"]), body: entry.body };
  const { state } = await threadIn(tx, row.thread);
  const live = state.live.find(({ hash }) => hash === row.hash);
  return { ...own, basis: entry.basis ?? "", body: live?.body ?? entry.body };
}
