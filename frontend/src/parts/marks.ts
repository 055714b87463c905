import type { LinePart, Mark, MarksById, ShownMark } from "./types";

/** The order in which the six marks are told, everywhere. */
export const MARKS: readonly Mark[] = [
  "nothing_found", "finding", "could_not_look", "not_due", "none_here", "not_looked",
];

export type MarkCounts = Readonly<Record<Mark, number>>;

/** The mark a shape stands for: out of use is counted with findings. */
export function markOf(shown: ShownMark | undefined): Mark {
  if (shown === undefined) return "not_looked";
  return shown === "out_of_use" ? "finding" : shown;
}

/** How many parts carry each mark. The six always add up to the number of parts. */
export function countMarks(parts: readonly Pick<LinePart, "id">[], marks: MarksById): MarkCounts {
  const counts: Record<Mark, number> = {
    nothing_found: 0, finding: 0, could_not_look: 0, not_due: 0, none_here: 0, not_looked: 0,
  };
  for (const part of parts) counts[markOf(marks[part.id])] += 1;
  return counts;
}

/** Parts and channels the six counts speak of. */
export function totalOf(counts: MarkCounts): number {
  return MARKS.reduce((sum, mark) => sum + counts[mark], 0);
}
