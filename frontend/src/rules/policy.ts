/** The facility's policy: which rows speak to which facts, and the strictest of each answer. */
import type { Limit } from "./limits";
import { allHold, type Condition, type Fact } from "./conditions";

export type First = "nothing" | "dry" | "clean" | "whole";
export type Goes = "on" | "hold" | "repair";

export interface PolicyRow {
  readonly id: string;
  readonly when: readonly Condition[];
  readonly first?: First;
  readonly goes?: Goes;
  /** Whether a technician may choose laxer and ask the lead; false = nobody, before a newer look or test. */
  readonly override: boolean;
  readonly words?: string;
  /** Who must hear of it beside whoever decides: "lead", "infection_prevention", "biomed". */
  readonly tell?: readonly string[];
  readonly source: string;
}

export interface Policy {
  readonly v: 1;
  readonly id: string;
  readonly rows: readonly PolicyRow[];
  /** Limits of measured values; an older policy has none. */
  readonly limits?: readonly Limit[];
  /** Over how many days it is counted how often a scope was sent back to cleaning; an older policy does not. */
  readonly recleans?: { readonly days: number; readonly source: string };
}

/** One row that speaks, and the fact (its place in the list given) it speaks to. */
export interface Spoken {
  readonly row: string;
  readonly fact: number;
}

export interface Suggestion {
  readonly first: First;
  readonly goes: Goes;
  readonly rows: readonly Spoken[];
}

export const FIRSTS: readonly First[] = ["nothing", "dry", "clean", "whole"];
export const GOES: readonly Goes[] = ["on", "hold", "repair"];

function stricter<T>(order: readonly T[], a: T, b: T | undefined): T {
  return b !== undefined && order.indexOf(b) > order.indexOf(a) ? b : a;
}

/** The suggestion for these facts: rows in the policy's order, within a row facts in the order given. */
export function suggest(policy: Policy, facts: readonly Fact[]): Suggestion {
  let first: First = "nothing";
  let goes: Goes = "on";
  const rows: Spoken[] = [];
  for (const row of policy.rows) {
    for (const [fact, value] of facts.entries()) {
      if (!allHold(row.when, value)) continue;
      rows.push({ row: row.id, fact });
      first = stricter(FIRSTS, first, row.first);
      goes = stricter(GOES, goes, row.goes);
    }
  }
  return { first, goes, rows };
}

/** Whether an answer is laxer than what a row asks that nobody may override: then it cannot be chosen at all. */
export function mayChoose(policy: Policy, spoken: readonly Spoken[], first: First, goes: Goes): boolean {
  const fixed = new Set(spoken.map(({ row }) => row));
  return policy.rows
    .filter((row) => fixed.has(row.id) && !row.override)
    .every(
      (row) =>
        stricter(FIRSTS, first, row.first) === first && stricter(GOES, goes, row.goes) === goes,
    );
}
