/**
 * The store came back without what was said to be saved in it. Nothing of it is begun anew in silence: it is told
 * what the server has, what is missing, and the tablet goes on in a new chain that names the old head.
 */
import { tell } from "./changed";
import { keyOf, startNewChain } from "./new-chain";
import { metaIn, putMetaIn } from "./meta";
import { headAnswer, type HeadAnswer } from "./receipt";
import type { Head } from "./schema";
import { forgetSaid, type Lost, lostOf, note, noteChain, type SaidEntry } from "./said";
import { read, write } from "./store";
import { ask, NoAnswer } from "./wire";

/** Which places neither the server nor this tablet has, and what is known of them. */
export interface Missing {
  readonly from: number;
  readonly to: number;
  readonly entries: readonly SaidEntry[];
}

/** What the server has of the chain. Raises NoAnswer, ServerTrouble. */
export async function serverHas(lost: Lost): Promise<HeadAnswer> {
  return headAnswer(await ask(`/chains/${lost.chain}/head`, { token: lost.token }), lost.chain);
}

/** What is missing once the server's head is known; undefined = nothing. */
export function missingOf(lost: Lost, server: Head): Missing | undefined {
  const from = Math.max(lost.here, server.seq) + 1;
  return lost.seq < from ? undefined : { from, to: lost.seq, entries: lost.unsent.filter(({ seq }) => seq >= from) };
}

/** Goes on in a new chain as the same station. Raises NoAnswer, ServerTrouble; then it is asked for again. */
export async function goOn(lost: Lost): Promise<void> {
  const server = await serverHas(lost);
  const station = { station: lost.station, token: lost.token, facility: null };
  if (lost.here > 0) return startNewChain(station, lost.chain, server, "rolled_back");
  const key = await keyOf(lost.chain, server, "wiped");
  const body = JSON.stringify({ public_key: key.publicKey, old: key.old, why: key.why });
  const answer = await ask("/door/chain", { method: "POST", token: lost.token, body });
  if (answer.json["chain"] !== key.chain) throw new NoAnswer("the server named another chain");
  await write(["meta"], async (tx) => {
    if ((await metaIn(tx, "chain")) !== undefined) return;
    await Promise.all([
      putMetaIn(tx, "station", station),
      putMetaIn(tx, "chain", { chain: key.chain, key: key.key }),
      putMetaIn(tx, "head", { seq: 0, hash: key.chain }),
      putMetaIn(tx, "epoch", server.epoch),
      tx.objectStore("meta").delete("pending_chain"),
    ]);
  });
  noteChain(lost.station, lost.token, key.chain);
  tell("meta");
}

/** Lets the old chain go without the server: a lead enrols this tablet anew. */
export function letGo(): void {
  forgetSaid();
  tell("meta");
}

/** Writes the note anew from the store, unless the store is behind it: for the start. */
export async function noteStore(): Promise<void> {
  const whole = await read(["meta", "entries"], async (tx) => {
    const [station, chain, head, old] = await Promise.all([metaIn(tx, "station"), metaIn(tx, "chain"), metaIn(tx, "head"), metaIn(tx, "old_chains")]);
    if (station === undefined || chain === undefined || head === undefined || lostOf(chain.chain, head, old) !== undefined) return undefined;
    const rows = await tx.objectStore("entries").index("waiting").getAll();
    const unsent = rows.filter((row) => row.chain === chain.chain).sort((a, b) => a.seq - b.seq)
      .map(({ seq, kind, at, scope }) => ({ seq, kind, at, ...(scope === undefined ? {} : { scope }) }));
    return { station: station.station, token: station.token, chain: chain.chain, seq: head.seq, unsent };
  });
  if (whole !== undefined) note(whole);
}
