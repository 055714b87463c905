/** Makes this browser a station: keys first, then the server is asked, then all is kept in one transaction. */
import { tell } from "../record/changed";
import { makeKey, type NewKey } from "../record/keys";
import { meta, metaIn, putMeta, putMetaIn } from "../record/meta";
import { epochOf } from "../record/receipt";
import { noteChain } from "../record/said";
import { write } from "../record/store";
import { mayRecordHere } from "../record/where";
import { type Answer, ask, NoAnswer } from "../record/wire";
import { keepOnlineSignIn } from "./sign-in";
import type { Enrolled } from "./station";
import type { SignedIn } from "./rows";

export interface FirstWords {
  readonly code: string;
  readonly person: { readonly name: string; readonly pin: string };
  readonly station: { readonly name: string; readonly place: string; readonly side: "dirty" | "clean" | "both" };
  /** The facility's own words, as the desk keeps them. */
  readonly facility: unknown;
}

/** By a lead's one-time code. Raises PlainTab, NoAnswer, ServerTrouble (the server's own words). */
export async function enrol(code: string): Promise<Enrolled> {
  const key = await keyFor();
  return keepEnrolled(key, await ask("/door/enrol", { method: "POST", body: JSON.stringify({ code, public_key: key.publicKey }) }));
}

/**
 * The first person and the first station, by the code printed at the server's start; also signs the person in.
 * `recovery` opens the person's sign-in when the PIN is lost; the server says it this once.
 */
export async function enrolFirst(words: FirstWords): Promise<Enrolled & { readonly signedIn: SignedIn; readonly recovery: string }> {
  const key = await keyFor();
  const body = JSON.stringify({ ...words, public_key: key.publicKey });
  const answer = await ask("/door/first", { method: "POST", body, cookie: true });
  const enrolled = await keepEnrolled(key, answer);
  const recovery = typeof answer.json["recovery"] === "string" ? answer.json["recovery"] : "";
  return { ...enrolled, recovery, signedIn: await keepOnlineSignIn(answer.json, words.person.pin, words.person.name) };
}

/** The key is kept before the server is asked, so that a lost answer can be asked for again with the same one. */
async function keyFor(): Promise<NewKey> {
  mayRecordHere();
  const kept = await meta("pending_enrol");
  if (kept !== undefined) return kept;
  const made = await makeKey();
  await putMeta("pending_enrol", made);
  return made;
}

async function keepEnrolled(key: NewKey, { json }: Answer): Promise<Enrolled> {
  const { station, token, chain } = json;
  if (typeof station !== "string" || typeof token !== "string" || chain !== key.chain) {
    throw new NoAnswer("the answer does not name this tablet's key");
  }
  const epoch = epochOf(json["epoch"]);
  const facility = json["facility"];
  await write(["meta"], async (tx) => {
    const [before, head, old] = await Promise.all([metaIn(tx, "chain"), metaIn(tx, "head"), metaIn(tx, "old_chains")]);
    const ended = before === undefined ? [] : [{ ...before, head: head ?? { seq: 0, hash: before.chain }, why: "enrolled again" }];
    await Promise.all([
      putMetaIn(tx, "old_chains", [...(old ?? []), ...ended]),
      putMetaIn(tx, "station", { station, token, facility }),
      putMetaIn(tx, "chain", { chain: key.chain, key: key.key }),
      putMetaIn(tx, "head", { seq: 0, hash: key.chain }),
      putMetaIn(tx, "epoch", epoch),
      tx.objectStore("meta").delete("pending_enrol"),
      tx.objectStore("meta").delete("pending_chain"),
    ]);
  });
  noteChain(station, token, key.chain);
  tell("meta");
  return { station, chain: key.chain, facility };
}
