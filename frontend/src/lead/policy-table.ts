/** The policy as a table on the desk: its rows, what a changed answer would be, and the text that says so. Pure. */
import { FIRSTS, GOES, type First, type Goes } from "../rules/policy";
import type { Person } from "./answers";

/** Who set it last, when and why. */
export interface SetBy {
  readonly at: string;
  readonly person: string;
  readonly reason: string;
}

export interface TableRow {
  readonly id: string;
  readonly first?: First;
  readonly goes?: Goes;
  readonly override: boolean;
  readonly source: string;
  readonly tell?: readonly string[];
  /** Null where it stands as it came with this version. */
  readonly set: SetBy | null;
}

/** Whether second opinions are on, and how many of a hundred inspections are drawn for one. */
export interface SecondOpinion {
  readonly on: boolean;
  readonly share_percent: number;
  readonly source: string;
}

export interface PolicyChange extends SetBy {
  readonly second: { readonly before: SecondOpinion; readonly after: SecondOpinion } | null;
  readonly rows: readonly { readonly row: string; readonly before: Answer | null; readonly after: Answer | null }[];
  /** The days over which cleanings are counted, where they were changed; null in it: none. */
  readonly recleans: { readonly before: number | null; readonly after: number | null } | null;
}

export interface PolicyPage {
  readonly sha256: string;
  readonly text: string;
  readonly rows: readonly TableRow[];
  readonly second_opinion: SecondOpinion & { readonly set: SetBy | null };
  /** Over how many days cleanings are counted, over all cycles; null in an older policy, which does not. */
  readonly recleans: { readonly days: number | null; readonly source: string; readonly set: SetBy | null };
  readonly changes: readonly PolicyChange[];
  readonly people: readonly Person[];
}

export interface Answer {
  readonly first?: First;
  readonly goes?: Goes;
}

/** How an answer stands to the one before it: one of the two laxer and the other stricter is laxer. */
export function against(before: Answer, now: Answer): "same" | "stricter" | "laxer" {
  const first = FIRSTS.indexOf(now.first ?? "nothing") - FIRSTS.indexOf(before.first ?? "nothing");
  const goes = GOES.indexOf(now.goes ?? "on") - GOES.indexOf(before.goes ?? "on");
  if (first < 0 || goes < 0) return "laxer";
  return first > 0 || goes > 0 ? "stricter" : "same";
}

/** The policy's text with second opinions set otherwise, under a name of its own. */
export function withSecond(text: string, id: string, wanted: Pick<SecondOpinion, "on" | "share_percent">): string {
  const policy = JSON.parse(text) as { readonly second_opinion?: SecondOpinion };
  const source = policy.second_opinion?.source ?? "the facility's own choice";
  return JSON.stringify({ ...policy, id, second_opinion: { ...wanted, source } });
}

/** The policy's text with one row answered otherwise, under a name of its own. All else stays as it was written. */
export function withAnswer(text: string, id: string, row: string, answer: Required<Answer>): string {
  const policy = JSON.parse(text) as { readonly rows: readonly Record<string, unknown>[] };
  const rows = policy.rows.map((each) => (each["id"] === row ? { ...each, ...answer } : each));
  return JSON.stringify({ ...policy, id, rows });
}

export const MOST_DAYS = 3660;

/** The policy's text with other days over which cleanings are counted, under a name of its own. All else stays. */
export function withDays(text: string, id: string, days: number): string {
  const policy = JSON.parse(text) as { readonly recleans?: { readonly source: string } };
  const source = policy.recleans?.source ?? "the facility's own number: no limit is published";
  return JSON.stringify({ ...policy, id, recleans: { days, source } });
}
