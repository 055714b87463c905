/** Logs of washers against what was looked at in a shift, and why a row could not be placed. Pure. */
import { say } from "../parts/words";
import type { Scope, Shift } from "./answers";
import type { LogRow, MachineLog } from "./form";

export interface Differs {
  /** In a log, and not looked at. */
  readonly notLooked: readonly string[];
  /** Looked at, and in no log. */
  readonly notLogged: readonly string[];
}

/** Keys of scopes, by what all logs say together. */
export function differs(logs: readonly MachineLog[], page: Pick<Shift, "inspections">): Differs {
  const logged = new Set(logs.flatMap(({ scopes }) => Object.keys(scopes)));
  const looked = new Set(page.inspections.map(({ scope }) => scope));
  return { notLooked: [...logged].filter((key) => !looked.has(key)), notLogged: [...looked].filter((key) => !logged.has(key)) };
}

/** Every scope that a log or the board can name. */
export function scopesOf(logs: readonly MachineLog[], page: Pick<Shift, "scopes">): Readonly<Record<string, Scope>> {
  return Object.assign({}, ...logs.map(({ scopes }) => scopes), page.scopes) as Readonly<Record<string, Scope>>;
}

export const whyWords = (row: LogRow): string => (row.why === null ? "" : say(`shift.log_why.${row.why}`, { found: row.found }));
