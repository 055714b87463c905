/** This tablet's own entries of some kinds that stand: known before the server's cards say so. */
import type { Entry, Sha256 } from "./entry";
import { readLine } from "./line";
import { metaIn } from "./meta";
import { read } from "./store";
import { threadIn } from "./thread";

export interface Own {
  readonly hash: Sha256;
  readonly scope: string;
  readonly person: string;
  readonly at: string;
  readonly body: Entry["body"];
}

/** Entries of this chain that are looked back through: some 40 inspections of a shift. */
const MOST = 1_500;

/** The newest of a kind, the oldest first, as they stand; what was taken back or put aside is not among them. */
export function ownOf(kind: string): Promise<readonly Own[]> {
  return read(["meta", "entries", "receipts"], async (tx) => {
    const [chain, head] = await Promise.all([metaIn(tx, "chain"), metaIn(tx, "head")]);
    if (chain === undefined || head === undefined || head.seq === 0) return [];
    const rows = await tx.objectStore("entries").getAll(IDBKeyRange.bound([chain.chain, Math.max(1, head.seq - MOST)], [chain.chain, head.seq]));
    const found = await Promise.all(rows.filter((row) => row.kind === kind).map(async (row): Promise<Own | undefined> => {
      const receipt = await tx.objectStore("receipts").get([row.chain, row.seq]);
      if (receipt !== undefined && (receipt.state === "stray" || receipt.verdict !== "counted")) return undefined;
      const entry = readLine(row.line);
      const live = (await threadIn(tx, row.thread)).state.live.find(({ hash }) => hash === row.hash);
      return live === undefined ? undefined : { hash: row.hash, scope: row.scope ?? "", person: entry.person, at: entry.at, body: live.body };
    }));
    return found.filter((own) => own !== undefined);
  });
}
