/** What stands apart on this tablet, item by item: each with its reason, none of it holding up the rest. */
import type { Sha256 } from "./entry";
import { read, type ReadTx } from "./store";

/**
 * `aside` on the server, a lead settles it · `stray` on the server, of a chain that forked · `refused` a photo the
 * server would not take when it was last sent · `damaged` a photo whose bytes no longer have their hash.
 */
export interface Stuck {
  readonly what: "aside" | "stray" | "refused" | "damaged";
  readonly id: Sha256;
  /** The verdict's reason, or the server's code. */
  readonly reason: string;
  /** Of the entry, or of the one that names the photo. */
  readonly kind: string;
  readonly scope: string | undefined;
  readonly at: string;
}

type Tx = ReadTx<"entries" | "held" | "receipts">;

/** All of it, in the order of writing. */
export function stuckItems(): Promise<readonly Stuck[]> {
  return read(["entries", "held", "receipts"], async (tx) => {
    const [aside, strays, waiting] = await Promise.all([
      tx.objectStore("receipts").index("verdict").getAll("aside"),
      tx.objectStore("receipts").index("state").getAll("stray"),
      tx.objectStore("held").index("waiting").getAll(),
    ]);
    const entries = [...aside.filter((row) => row.state !== "stray").map((row) => ({ ...row, what: "aside" as const })), ...strays.map((row) => ({ ...row, what: "stray" as const }))];
    const photos = waiting.filter((row) => row.damaged !== undefined || row.refused !== undefined);
    const found = await Promise.all([
      ...entries.map(async ({ what, chain, seq, hash, reason }) => ({ what, id: hash, reason: reason ?? "forked", ...(await ofEntry(tx, chain, seq)) })),
      ...photos.map(async ({ sha256, chain, seq, damaged, refused }): Promise<Stuck> => ({
        what: damaged === undefined ? "refused" : "damaged", id: sha256, reason: damaged === undefined ? (refused ?? "") : "damaged", ...(await ofEntry(tx, chain, seq)),
      })),
    ]);
    return found.sort((a, b) => (a.at < b.at ? -1 : 1));
  });
}

async function ofEntry(tx: Tx, chain: Sha256, seq: number): Promise<Pick<Stuck, "kind" | "scope" | "at">> {
  const row = await tx.objectStore("entries").get([chain, seq]);
  return row === undefined ? { kind: "", scope: undefined, at: "" } : { kind: row.kind, scope: row.scope, at: row.at };
}
