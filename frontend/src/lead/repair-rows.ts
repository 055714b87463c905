/** How a repair that stands is told in one row: which of the heaps it lies on, and the words under its name. */
import { dayOf } from "../parts/repair-words";
import { say } from "../parts/words";
import type { RepairRow } from "./answers";
import { whenOf } from "./times";

/** Asked for, opened by phone and not confirmed yet, with an estimate nobody answered: what waits for a lead is first. */
export const GROUPS = ["asked", "phone", "estimate", "out", "back", "open"] as const;
export type Group = (typeof GROUPS)[number];

export function groupOf(row: RepairRow): Group {
  if (row.state === "asked") return "asked";
  if (row.unconfirmed.length > 0) return "phone";
  if (row.undecided.length > 0) return "estimate";
  return row.stage === "out" ? "out" : row.stage === "open" || row.stage === "asked" ? "open" : "back";
}

/** What was said of it first, and since when it stands. */
export function noteOf(row: RepairRow, now: number, zone: string | undefined): string {
  const first = row.words.find((word) => !word.undone && (typeof word.said["words"] === "string" || typeof word.said["reason"] === "string"));
  const words = first === undefined ? "" : `“${String(first.said["words"] ?? first.said["reason"])}”`;
  return [lateSaid(row, now, zone), row.leak_failed ? say("repair.said.leak_test_short") : "", words, whenOf(row.since_ms, now, zone)].filter((text) => text !== "").join(" · ");
}

/** Past the newest day that was said for its return, or past the facility's limit. */
function lateSaid(row: RepairRow, now: number, zone: string | undefined): string {
  if (row.stage !== "out") return row.stage === "open" || row.stage === "asked" ? "" : say(`repair.home.${row.stage}`);
  const day = row.words.filter(({ said }) => said["expected_back"] !== undefined && !said["contact"]).at(-1)?.said["expected_back"];
  if (typeof day === "string" && day < dayOf(now, zone)) return say("repair.late.day");
  if (row.over.length > 0) return say("repair.late.limit");
  return typeof day === "string" ? say("repair.home.expected", { day }) : "";
}
