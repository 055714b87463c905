/** One round of sending: ask for the head, compare, send lines, then photos. Every step may fail; nothing is lost by it. */
import { meta, putMeta } from "./meta";
import { moment } from "./moment";
import { hashLine, sha256Hex } from "./hash";
import { signHead } from "./keys";
import { startNewChain, type WhyNew } from "./new-chain";
import {
  batchFrom, firstWaiting, hashAt, keepDamage, keepErased, keepPhotoReceipt, keepReceipts, keepRefusal, MOST_LINES, offerAllAgain, type Sending, sending,
  type SendingChain, waitingPhotos,
} from "./outbox";
import { batchAnswer, headAnswer, type HeadAnswer, photoAnswer } from "./receipt";
import type { Epoch, EntryRow, HeldRow } from "./schema";
import { settings } from "./setting";
import type { Stopped } from "./status";
import { read } from "./store";
import { type Answer, ask, putPhoto, ServerTrouble } from "./wire";

/** How a round ended when no trouble was raised. */
export interface RoundEnd {
  readonly stopped: Stopped | undefined;
}

/** Told at every answer of ours. */
export type Heard = (answer: Answer) => void;

const PHOTOS_AT_ONCE = 4;

/** Raised inside a round when the epoch went back: the operator must say which server is the right one. */
class EpochBack extends Error {}

/** What a round works with: the station, its chains, how many lines go at once. */
interface Now extends Sending {
  readonly most: number;
}

/** One whole round, at most `most` lines a batch. Raises NoAnswer or ServerTrouble where it could not be ended. */
export async function sendRound(heard: Heard, most = MOST_LINES): Promise<RoundEnd> {
  const found = await sending();
  const now: Now | undefined = found === undefined ? undefined : { ...found, most };
  if (now === undefined) return { stopped: "no_key" };
  try {
    const { stopped, refused } = await sendChains(now, heard);
    await sendPhotos(now, heard);
    if (refused !== undefined) throw refused;
    return { stopped };
  } catch (cause) {
    if (cause instanceof EpochBack) return { stopped: "epoch_back" };
    if (cause instanceof ServerTrouble && cause.status === 401) return { stopped: "not_known" };
    throw cause;
  }
}

/** Each chain in turn. Lines the server will not have hold up neither another chain nor the photos of entries it has. */
async function sendChains(now: Now, heard: Heard): Promise<RoundEnd & { readonly refused: ServerTrouble | undefined }> {
  let stopped: Stopped | undefined;
  let refused: ServerTrouble | undefined;
  for (const chain of now.chains) {
    try {
      stopped = (await sendChain(now, chain, heard)) ?? stopped;
    } catch (cause) {
      if (!isRefusal(cause)) throw cause;
      refused = chain.current ? new ChainRefused(cause) : (refused ?? cause);
    }
  }
  return { stopped, refused };
}

/** The server will not have lines of the chain this tablet writes now: all that is recorded later waits behind them. */
export class ChainRefused extends ServerTrouble {
  constructor({ status, words, json, waitS }: ServerTrouble) {
    super(status, words, json, waitS);
  }
}

/** The server answered and will not have this one thing; anything else is no reason to try the next. */
export function isRefusal(cause: unknown): cause is ServerTrouble {
  return cause instanceof ServerTrouble && cause.status >= 400 && cause.status < 500 && cause.status !== 401 && cause.status !== 429;
}

async function keepClock({ aheadMs }: Answer): Promise<void> {
  if (aheadMs === undefined) return;
  const known = await meta("clock");
  const fresh = known !== undefined && Math.abs(known.ahead_ms - aheadMs) < 2000;
  const age = known === undefined ? Number.POSITIVE_INFINITY : settings().now().getTime() - Date.parse(known.checked_at);
  if (fresh && age >= 0 && age < 600_000) return;
  await putMeta("clock", { ahead_ms: aheadMs, checked_at: moment(settings().now()) });
}

/** The epoch may stand still or go up. */
async function checkEpoch(epoch: Epoch): Promise<void> {
  const known = await meta("epoch");
  if (known?.id === epoch.id && known.n === epoch.n) return;
  if (known !== undefined && epoch.n <= known.n) throw new EpochBack();
  if (known === undefined) await putMeta("epoch", epoch);
  else await offerAllAgain(epoch);
}

/** Sends one chain; a chain that ended here is asked for only while it holds something unsent. */
async function sendChain(now: Now, chain: SendingChain, heard: Heard): Promise<Stopped | undefined> {
  if (!chain.current && (await firstWaiting(chain.chain)) === undefined) return undefined;
  const head = await askHead(now, chain, heard);
  if (head === "withdrawn") {
    await sendLines(now, chain, (await firstWaiting(chain.chain)) ?? 0, heard);
    return "withdrawn";
  }
  const why = await disagreement(chain, head);
  if (why !== undefined && chain.current) {
    await startNewChain(now.station, chain.chain, head, why);
    await sendLines(now, { ...chain, current: false }, await firstWaiting(chain.chain), heard);
    return undefined;
  }
  const waiting = await firstWaiting(chain.chain);
  const next = head.seq + 1;
  await sendLines(now, chain, why === undefined ? Math.min(waiting ?? next, next) : waiting, heard);
  return undefined;
}

async function askHead(now: Now, { chain, current }: SendingChain, heard: Heard): Promise<HeadAnswer | "withdrawn"> {
  try {
    const answer = await ask(`/chains/${chain}/head`, { token: now.station.token });
    const head = headAnswer(answer, chain);
    heard(answer);
    await keepClock(answer);
    await checkEpoch(head.epoch);
    if (current && (await meta("backed_up_seq")) !== head.backedUpSeq) await putMeta("backed_up_seq", head.backedUpSeq);
    return head;
  } catch (cause) {
    if (cause instanceof ServerTrouble && cause.words.code === "station_withdrawn") return "withdrawn";
    throw cause;
  }
}

/** How this tablet's chain and the server's head of it do not fit, or undefined. */
async function disagreement({ chain }: SendingChain, head: HeadAnswer): Promise<WhyNew | undefined> {
  const own = await hashAt(chain, head.seq);
  if (own === undefined) return "server_ahead";
  return own === head.hash ? undefined : "forked";
}

/** Sends lines from a place on until none is left. */
async function sendLines(now: Now, chain: SendingChain, first: number | undefined, heard: Heard): Promise<void> {
  let next = first;
  let gaps = 0;
  while (next !== undefined && next > 0) {
    const rows = await batchFrom(chain.chain, next, now.most);
    if (rows.length === 0) return;
    try {
      next = await sendBatch(now, chain, rows, heard);
    } catch (cause) {
      const seq = gapSeq(cause);
      if (seq === undefined || gaps > 0) throw cause;
      gaps += 1;
      next = seq + 1;
    }
  }
}

/** The server's own place, where it answered that lines before these are missing. */
function gapSeq(cause: unknown): number | undefined {
  if (!(cause instanceof ServerTrouble) || cause.status !== 409) return undefined;
  const seq = cause.json["seq"];
  return typeof seq === "number" && Number.isSafeInteger(seq) ? seq : undefined;
}

/** Sends one batch and keeps its receipts. Answers the next place. */
async function sendBatch(now: Now, chain: SendingChain, rows: readonly EntryRow[], heard: Heard): Promise<number> {
  const first = rows[0];
  const last = rows.at(-1);
  if (first === undefined || last === undefined) throw new Error("an empty batch");
  // What is sent is what is signed and receipted: a line whose bytes rotted takes its place as it is and is put aside.
  const sent = rows.map(({ seq, line }) => ({ seq, hash: hashLine(line) }));
  const hash = sent.at(-1)?.hash ?? last.hash;
  const sig = await signHead(chain.key, chain.chain, last.seq, hash);
  const head = JSON.stringify({ head: { seq: last.seq, hash, sig } });
  const answer = await ask(`/chains/${chain.chain}/entries?from=${first.seq}`, {
    method: "POST", token: now.station.token, type: "application/x-ndjson", body: joined(rows, head),
  });
  const batch = batchAnswer(answer, sent);
  heard(answer);
  await checkEpoch(batch.epoch);
  await keepReceipts(chain.chain, batch);
  if (batch.forked && chain.current) await startNewChain(now.station, chain.chain, batch, "forked");
  const received = new Set(batch.receipts.map((receipt) => receipt.seq));
  const missing = rows.find((row) => !received.has(row.seq));
  if (missing === first) throw new ServerTrouble(200, { code: "no_receipt", so: "no receipt came", safe: "", next: "" }, {});
  return missing?.seq ?? last.seq + 1;
}

/** The stored bytes, one line each, then the head: nothing is written again. */
function joined(rows: readonly EntryRow[], head: string): Uint8Array<ArrayBuffer> {
  const tail = new TextEncoder().encode(`${head}\n`);
  const all = new Uint8Array(rows.reduce((sum, row) => sum + row.line.length + 1, tail.length));
  let at = 0;
  for (const { line } of rows) {
    all.set(line, at);
    at += line.length;
    all[at] = 10;
    at += 1;
  }
  all.set(tail, at);
  return all;
}

/** Sends the photos of received entries, four at once. One that is refused keeps no other waiting; a lost server ends it. */
async function sendPhotos(now: Now, heard: Heard): Promise<void> {
  const waiting = [...(await waitingPhotos())];
  const troubles: unknown[] = [];
  let lost = false;
  const lane = async (): Promise<void> => {
    for (let row = waiting.shift(); row !== undefined && !lost; row = waiting.shift()) {
      const { sha256 } = row;
      await sendPhoto(now, row, heard).catch(async (cause: unknown) => {
        lost ||= !isRefusal(cause);
        troubles.push(cause);
        if (isRefusal(cause)) await keepRefusal(sha256, cause.words.code);
      });
    }
  };
  await Promise.all(Array.from({ length: PHOTOS_AT_ONCE }, lane));
  if (troubles.length > 0) throw troubles[0];
}

async function sendPhoto(now: Now, { sha256 }: HeldRow, heard: Heard): Promise<void> {
  const bytes = await soundBytes(sha256);
  if (bytes === undefined) return keepDamage(sha256);
  const answer = await putPhoto(sha256, bytes, now.station.token).catch((cause: unknown) => {
    if (cause instanceof ServerTrouble && cause.words.code === "erased") return undefined;
    throw cause;
  });
  if (answer === undefined) return keepErased(sha256);
  const epoch = photoAnswer(answer, sha256);
  heard(answer);
  await checkEpoch(epoch);
  await keepPhotoReceipt(sha256, epoch);
}

/** A fresh copy of the bytes when they still have their hash. A damaged file fails the read with a DOMException. */
async function soundBytes(sha256: string): Promise<Uint8Array<ArrayBuffer> | undefined> {
  const row = await read(["photos"], (tx) => tx.objectStore("photos").get(sha256)).catch((cause: unknown) => {
    if (cause instanceof DOMException && cause.name === "NotReadableError") return undefined;
    throw cause;
  });
  if (row === undefined) return undefined;
  const bytes = new Uint8Array(row.bytes.slice(0));
  return (await sha256Hex(bytes)) === sha256 ? bytes : undefined;
}
