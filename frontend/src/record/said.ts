/**
 * What this tablet said to be saved, noted a second time outside the browser's database: enough to tell what is
 * missing when the browser loses that database, and to ask the server what it has. Lines and photos are not in it.
 */
import type { Sha256 } from "./entry";
import { practising } from "./practice";
import type { Head } from "./schema";
import { settings } from "./setting";

/** One entry that has no receipt yet: where, what, of which scope, when. */
export interface SaidEntry {
  readonly seq: number;
  readonly kind: string;
  readonly scope?: string;
  readonly at: string;
}

export interface Said {
  readonly station: string;
  /** Authenticates sending, never a person: with it the server is asked for its head of the chain. */
  readonly token: string;
  readonly chain: Sha256;
  /** The highest place that was said to be saved. */
  readonly seq: number;
  /** Those without a receipt, the newest of them, in their order. */
  readonly unsent: readonly SaidEntry[];
}

/** What was said to be saved and is not here: all of a chain (`here` 0), or its end. */
export interface Lost extends Said {
  /** The last place that is still here; 0 = the whole store is gone. */
  readonly here: number;
}

/** A shift without a network is some 600 entries of 100 bytes; the oldest of more are only counted. */
const MOST = 600;
const name = (): string => `${settings().store}.said`;
const mayNote = (): boolean => typeof localStorage !== "undefined" && practising() === undefined;

/** The note, or undefined where there is none that can be read. */
export function said(): Said | undefined {
  if (!mayNote()) return undefined;
  try {
    const found = JSON.parse(localStorage.getItem(name()) ?? "null") as Said | null;
    return found !== null && typeof found.chain === "string" && Array.isArray(found.unsent) ? found : undefined;
  } catch {
    return undefined;
  }
}

/** Notes all of it: at start from the store, where an older build or a kill left the note behind. */
export function note(what: Said): void {
  if (!mayNote()) return;
  try {
    localStorage.setItem(name(), JSON.stringify({ ...what, unsent: what.unsent.slice(-MOST) }));
  } catch {
    // A full note keeps no save from being told: the entry itself is durable.
  }
}

/** Begins the note of a chain. */
export function noteChain(station: string, token: string, chain: Sha256): void {
  note({ station, token, chain, seq: 0, unsent: [] });
}

/** Notes one entry that is durable; a chain without a note is left alone. */
export function noteSaved(chain: Sha256, entry: SaidEntry): void {
  const known = said();
  if (known?.chain !== chain) return;
  note({ ...known, seq: Math.max(known.seq, entry.seq), unsent: [...known.unsent.filter(({ seq }) => seq !== entry.seq), entry].sort((a, b) => a.seq - b.seq) });
}

/** Takes out what the server has. */
export function noteReceived(chain: Sha256, seqs: readonly number[]): void {
  const known = said();
  if (known?.chain !== chain) return;
  const received = new Set(seqs);
  note({ ...known, unsent: known.unsent.filter(({ seq }) => !received.has(seq)) });
}

/** Compares the note with the store's own chain and head. */
export function lostOf(chain: string | undefined, head: Head | undefined, old: readonly { readonly chain: string }[] = []): Lost | undefined {
  const known = said();
  if (known === undefined || old.some((each) => each.chain === known.chain)) return undefined;
  if (chain === undefined) return { ...known, here: 0 };
  const here = head?.seq ?? 0;
  return known.chain === chain && known.seq > here ? { ...known, here } : undefined;
}

/** Forgets it: the tablet is enrolled anew, and what was lost was told. */
export function forgetSaid(): void {
  if (mayNote()) localStorage.removeItem(name());
}
