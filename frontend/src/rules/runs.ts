/**
 * Runs of a borescope from both ends of one channel: whether they add up to the whole of it, and what they leave. Pure.
 *
 * The twin of rules/runs.py. Arithmetic, no source. Nothing unseen is ever counted as seen: a distance that was not
 * read off adds nothing, of several lengths the longest holds, and runs that say more than the channel is long add up
 * to nothing.
 */

/** One run through a channel, as `channel.looked` says it; millimetres. */
export interface Run {
  readonly outcome: string;
  readonly way?: string | null | undefined;
  readonly reached_mm?: number | null | undefined;
  readonly known?: string | null | undefined;
  readonly length_mm?: number | null | undefined;
}

/**
 * through: one run reached the other end · both_ends: what was reached from the two ends is the channel's length or
 * more · gap: it is less, `unseen` is what is left · no_length: no run knows the channel's length · beyond: a run that
 * did not get through says more than the channel is long · none: no borescope went in.
 */
export type Why = "through" | "both_ends" | "gap" | "no_length" | "beyond" | "none";

/** What the runs of one channel show of it, millimetres from each end. */
export interface SeenOfChannel {
  readonly why: Why;
  readonly portMm: number;
  readonly tipMm: number;
  readonly lengthMm: number | null;
  /** From and to, measured from the port; only where `why` is `gap`. */
  readonly unseen: readonly [number, number] | null;
  /** Whether a distance was left out because it was not read off. */
  readonly estimated: boolean;
}

const NOTHING_OF = { portMm: 0, tipMm: 0, lengthMm: null, unseen: null, estimated: false } as const;

/** All runs of one channel that stand in one part of an inspection. */
export function seenOf(runs: readonly Run[]): SeenOfChannel {
  const wentIn = runs.filter((run) => run.outcome !== "not_possible");
  if (wentIn.length === 0) return { why: "none", ...NOTHING_OF };
  if (wentIn.some((run) => run.outcome === "through")) return { why: "through", ...NOTHING_OF };
  const counted = wentIn.filter((run) => run.known === "read_off" && (run.reached_mm ?? 0) > 0);
  const portMm = farthest(counted, "from_port");
  const tipMm = farthest(counted, "from_tip");
  const length = Math.max(0, ...wentIn.map((run) => run.length_mm ?? 0));
  const told = { portMm, tipMm, lengthMm: length === 0 ? null : length, unseen: null, estimated: counted.length < wentIn.length };
  if (length === 0) return { why: "no_length", ...told };
  if (Math.max(portMm, tipMm) >= length) return { why: "beyond", ...told };
  if (portMm + tipMm >= length) return { why: "both_ends", ...told };
  return { why: "gap", ...told, unseen: [portMm, length - tipMm] };
}

const farthest = (runs: readonly Run[], way: string): number => Math.max(0, ...runs.filter((run) => run.way === way).map((run) => run.reached_mm ?? 0));
