/**
 * A chain is never mended. Where this tablet and the server do not agree on one, the tablet goes on in a new
 * chain with a new key that names the old head; what was unsent in the old one is still sent as it is.
 */
import { tell } from "./changed";
import type { Sha256 } from "./entry";
import { makeKey } from "./keys";
import { noteChain } from "./said";
import { meta, metaIn, putMeta, putMetaIn } from "./meta";
import { headAnswer } from "./receipt";
import type { Head, PendingChainRow, StationRow } from "./schema";
import { write } from "./store";
import { ask, NoAnswer } from "./wire";

export type WhyNew = "wiped" | "forked" | "server_ahead" | "rolled_back" | "cloned" | "refused";

/** The old chain as the server last had it: `hash` is left out where the server has nothing of it. */
function oldHead(chain: Sha256, head: Head): PendingChainRow["old"] {
  return head.seq === 0 ? { chain, seq: 0 } : { chain, seq: head.seq, hash: head.hash };
}

/** The key is kept before the server is asked: asked again after a lost answer, it names the same chain. */
export async function keyOf(chain: Sha256, head: Head, why: WhyNew): Promise<PendingChainRow> {
  const kept = await meta("pending_chain");
  if (kept !== undefined && kept.old.chain === chain) return kept;
  const made = await makeKey();
  const pending = { ...made, old: oldHead(chain, head), why };
  await putMeta("pending_chain", pending);
  return pending;
}

/**
 * A person leaves a chain whose lines the server will not have: the new one names its head there. What is unsent in the
 * old one stays here, goes into the file, and is still offered at every round. Raises NoAnswer, ServerTrouble.
 */
export async function leaveChain(): Promise<void> {
  const [station, chain] = await Promise.all([meta("station"), meta("chain")]);
  if (station === undefined || chain === undefined) return;
  const head = headAnswer(await ask(`/chains/${chain.chain}/head`, { token: station.token }), chain.chain);
  await startNewChain(station, chain.chain, head, "refused");
}

/** Goes on in a new chain. Raises NoAnswer or ServerTrouble; then nothing changed and it is tried again. */
export async function startNewChain(station: StationRow, chain: Sha256, serverHead: Head, why: WhyNew): Promise<void> {
  if ((await meta("chain"))?.chain !== chain) return;
  const pending = await keyOf(chain, serverHead, why);
  const body = JSON.stringify({ public_key: pending.publicKey, old: pending.old, why: pending.why });
  const answer = await ask("/door/chain", { method: "POST", token: station.token, body });
  if (answer.json["chain"] !== pending.chain) throw new NoAnswer("the server named another chain");
  await write(["meta"], async (tx) => {
    const [now, head, old] = await Promise.all([metaIn(tx, "chain"), metaIn(tx, "head"), metaIn(tx, "old_chains")]);
    if (now === undefined || now.chain !== chain) return;
    const ended = { ...now, head: head ?? { seq: 0, hash: chain }, why: pending.why };
    await Promise.all([
      putMetaIn(tx, "old_chains", [...(old ?? []), ended]),
      putMetaIn(tx, "chain", { chain: pending.chain, key: pending.key }),
      putMetaIn(tx, "head", { seq: 0, hash: pending.chain }),
      tx.objectStore("meta").delete("pending_chain"),
    ]);
  });
  noteChain(station.station, station.token, pending.chain);
  tell("meta");
}
