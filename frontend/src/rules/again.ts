/** How often a scope was sent back to cleaning within so many days, over all its cycles. */

/** One concluded look that sent its scope back to cleaning: its entry, its inspection, when (ms UTC since 1970). */
export interface SentBack {
  readonly entry: string;
  readonly root: string;
  readonly at_ms: number;
}

const DAY_MS = 24 * 3600 * 1000;

/**
 * How many inspections but `root` sent it back, from `days` times 24 hours before a moment until before it. An
 * inspection that was concluded on two tablets is one.
 */
export function sentBackWithin(back: readonly SentBack[], root: string, beforeMs: number, days: number): number {
  const sinceMs = beforeMs - days * DAY_MS;
  return new Set(back.filter((each) => each.root !== root && sinceMs <= each.at_ms && each.at_ms < beforeMs).map((each) => each.root)).size;
}
