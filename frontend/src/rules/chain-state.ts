/**
 * What the chain rules know of one thread: one inspection part, or the loose entries of a chain
 * (those that name no inspection). Everything here is what counts now: withdrawn entries are gone.
 */

import { type Run, seenOf } from "./runs";

export type Fields = Readonly<Record<string, unknown>>;

/** What the machine reads of an entry; a record's entry fits as it is. */
export interface RuleEntry {
  readonly kind: string;
  readonly about: { readonly scope?: string; readonly inspection?: string };
  readonly body: Fields;
  readonly photos: readonly { readonly sha256: string; readonly shows: string }[];
}

/** One entry that counts: its first hash for ever, the body of its newest correction. */
export interface Live {
  readonly hash: string;
  /** The newest version: the entry's own hash, or that of its last correction. */
  readonly version: string;
  readonly kind: string;
  readonly body: Fields;
  readonly photos: readonly { readonly sha256: string; readonly shows: string }[];
}

export type PartMark = "finding" | "could_not_look" | "nothing_found";

export interface ThreadState {
  readonly live: readonly Live[];
  readonly begun: { readonly hash: string; readonly body: Fields } | null;
  /** fact -> hashes of the entries that set it */
  readonly facts: Readonly<Record<string, readonly string[]>>;
  /** part -> [mark, hash of the entry] in the order they were made */
  readonly marks: Readonly<Record<string, readonly (readonly [PartMark, string])[]>>;
  /** part -> hashes of the entries that carry photos of it */
  readonly photos: Readonly<Record<string, readonly string[]>>;
}

export const NOTHING: ThreadState = { live: [], begun: null, facts: {}, marks: {}, photos: {} };

/** The entries of runs that meet from both ends, among those that mark one part. */
function metOf(state: ThreadState, made: readonly (readonly [PartMark, string])[]): ReadonlySet<string> {
  const hashes = new Set(made.map(([, hash]) => hash));
  if (hashes.size < 2) return new Set();
  const runs = state.live.filter((live) => hashes.has(live.hash) && live.kind === "channel.looked" && live.body["outcome"] === "blocked");
  const met = seenOf(runs.map((live) => live.body as unknown as Run)).why === "both_ends";
  return new Set(met ? runs.map((live) => live.hash) : []);
}

const STRICTNESS: Readonly<Record<PartMark, number>> = { nothing_found: 1, could_not_look: 2, finding: 3 };

/**
 * The mark that counts: the strictest of those not withdrawn; undefined = not looked at. Runs that did not get through,
 * from both ends and together as long as the channel, are a look through it.
 */
export function markOf(state: ThreadState, part: string): PartMark | undefined {
  const made = state.marks[part] ?? [];
  const met = metOf(state, made);
  let strictest: PartMark | undefined;
  for (const [said, hash] of made) {
    const mark = met.has(hash) ? "nothing_found" : said;
    if (strictest === undefined || STRICTNESS[mark] > STRICTNESS[strictest]) strictest = mark;
  }
  return strictest;
}
