/** What the server says it has, checked before it is believed. */
import type { Sha256 } from "./entry";
import type { Epoch, Head, ReceiptRow } from "./schema";
import { type Answer, NoAnswer } from "./wire";

const HASH = /^[0-9a-f]{64}$/;

export interface HeadAnswer extends Head {
  readonly epoch: Epoch;
  readonly backedUpSeq: number;
}

export interface BatchAnswer extends Head {
  readonly epoch: Epoch;
  readonly receipts: readonly Omit<ReceiptRow, "chain" | "epoch" | "at">[];
  readonly wanted: readonly Sha256[];
  readonly forked: boolean;
}

function isHash(value: unknown): value is Sha256 {
  return typeof value === "string" && HASH.test(value);
}

function isSeq(value: unknown): value is number {
  return Number.isSafeInteger(value) && (value as number) >= 0;
}

function notOurs(what: string): never {
  throw new NoAnswer(`the answer is not a receipt: ${what}`);
}

export function epochOf(value: unknown): Epoch {
  const { n, id } = (value ?? {}) as { n?: unknown; id?: unknown };
  return isSeq(n) && typeof id === "string" ? { n, id } : notOurs("epoch");
}

/** The head of a chain; an empty chain's head is (0, the chain's id). */
export function headAnswer({ json }: Answer, chain: Sha256): HeadAnswer {
  const { seq, hash } = json;
  if (!isSeq(seq)) return notOurs("seq");
  const head = seq === 0 ? chain : hash;
  if (!isHash(head)) return notOurs("hash");
  const backed = json["backed_up_seq"];
  return { epoch: epochOf(json["epoch"]), seq, hash: head, backedUpSeq: isSeq(backed) ? backed : 0 };
}

/** The receipts of a batch. Each must repeat the hash of the line that was sent with its seq. */
export function batchAnswer({ json }: Answer, sent: readonly Head[]): BatchAnswer {
  const { seq, hash, receipts, wanted } = json;
  if (!isSeq(seq) || !Array.isArray(receipts)) return notOurs("shape");
  const hashes = new Map(sent.map((head) => [head.seq, head.hash]));
  const checked = receipts.map((value: unknown): BatchAnswer["receipts"][number] => {
    const { seq, hash, state, verdict, reason } = value as Record<string, unknown>;
    if (!isSeq(seq) || !isHash(hash) || hashes.get(seq) !== hash) return notOurs("another hash");
    if (state !== "stored" && state !== "already" && state !== "stray") return notOurs("state");
    const aside = verdict === "aside" ? ("aside" as const) : ("counted" as const);
    return { seq, hash, state, verdict: aside, ...(typeof reason === "string" ? { reason } : {}) };
  });
  return {
    epoch: epochOf(json["epoch"]), seq, hash: isHash(hash) ? hash : "", receipts: checked,
    wanted: Array.isArray(wanted) ? wanted.filter(isHash) : [],
    forked: (json["forked"] !== undefined && json["forked"] !== null && json["forked"] !== false) || checked.some((row) => row.state === "stray"),
  };
}

/** Whether a photo's answer is its receipt; the epoch it stands in. */
export function photoAnswer({ json }: Answer, sha256: Sha256): Epoch {
  if (json["photo"] !== sha256 || (json["state"] !== "stored" && json["state"] !== "already")) return notOurs("another photo");
  return epochOf(json["epoch"]);
}
