/** The inspection parts of this tablet that stand open: what the first screen reads, without the rules. */
import type { Sha256 } from "./entry";
import { entryOf } from "./line";
import { metaIn } from "./meta";
import type { OpenRow } from "./schema";
import { read, type ReadTx } from "./store";

export interface OpenPart {
  readonly begun: Sha256;
  /** Hash that names the whole inspection. */
  readonly root: Sha256;
  readonly scope: string;
  readonly point: string;
  readonly at: string;
  readonly person: string;
  /** False = begun in a chain that ended: it can only be continued by a new part. */
  readonly here: boolean;
}

/** The inspection parts of this tablet that wait to be gone on with, the newest first: none that was concluded elsewhere. */
export function openParts(): Promise<readonly OpenPart[]> {
  return read(["meta", "open", "entries"], async (tx) => {
    const [chain, rows] = await Promise.all([metaIn(tx, "chain"), tx.objectStore("open").getAll()]);
    const parts = await Promise.all(rows.filter((row) => row.elsewhere === undefined).map((row) => openPart(tx, row, chain?.chain)));
    return parts.filter((part) => part !== undefined).sort((a, b) => (a.at < b.at ? 1 : -1));
  });
}

async function openPart(tx: ReadTx<"meta" | "open" | "entries">, row: OpenRow, chain: Sha256 | undefined): Promise<OpenPart | undefined> {
  const begun = await tx.objectStore("entries").index("hash").get(row.begun);
  const entry = begun === undefined ? undefined : entryOf(begun);
  if (entry === undefined) return undefined;
  return {
    begun: row.begun,
    root: row.root ?? row.begun,
    scope: row.scope,
    point: String(entry.body["point"]),
    at: entry.at,
    person: entry.person,
    here: row.chain === chain,
  };
}
