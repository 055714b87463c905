/** When a photo then and a photo now have been side by side on the screen: "same" and "worse" are offered after that alone. */

/** The two photos in question and what of them stands on the screen at this moment; names are their hashes. */
export interface Standing {
  /** The place in which both stand beside each other is on the screen, not below its edge and not one over the other. */
  readonly inSight: boolean;
  readonly then: string | undefined;
  readonly now: string | undefined;
  /** Whose pictures were loaded there: one still to come, or that of another photo, is not seen. */
  readonly loaded: { readonly then: string | undefined; readonly now: string | undefined };
}

/** Two photos that have been side by side. */
export interface SeenPair {
  readonly before: string;
  readonly now: string;
}

/** The pair that stands side by side at this moment. */
export function sideBySide({ inSight, then, now, loaded }: Standing): SeenPair | undefined {
  if (!inSight || then === undefined || now === undefined || loaded.then !== then || loaded.now !== now) return undefined;
  return { before: then, now };
}

/** Whether "same" and "worse" are offered: this very pair was seen, and neither is hidden since. */
export function mayBeCompared(
  seen: SeenPair | null,
  now: { readonly sha256: string | undefined; readonly hidden: boolean },
  thens: readonly { readonly sha256: string; readonly hidden?: boolean | undefined }[],
): boolean {
  if (seen === null || now.sha256 === undefined || now.hidden || seen.now !== now.sha256) return false;
  return thens.some(({ sha256, hidden }) => sha256 === seen.before && hidden !== true);
}
