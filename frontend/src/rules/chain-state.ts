/**
 * What the chain rules know of one thread: one inspection part, or the loose entries of a chain
 * (those that name no inspection). Everything here is what counts now: withdrawn entries are gone.
 */

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

const STRICTNESS: Readonly<Record<PartMark, number>> = { nothing_found: 1, could_not_look: 2, finding: 3 };

/** The mark that counts: the strictest of those not withdrawn; undefined = not looked at. */
export function markOf(state: ThreadState, part: string): PartMark | undefined {
  let strictest: PartMark | undefined;
  for (const [mark] of state.marks[part] ?? []) {
    if (strictest === undefined || STRICTNESS[mark] > STRICTNESS[strictest]) strictest = mark;
  }
  return strictest;
}
