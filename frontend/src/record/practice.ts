/**
 * Practice: a window that works on a store of its own, so that `append` cannot reach the record, and that
 * cannot speak to the server: no token, no address, no fetch. It says so for as long as this window lives.
 */
import type { RecordSetting } from "./setting";

const FLAG = "loupebook.practice";
/** The practice store begins with this name; the record's own store never does. */
export const PRACTICE_STORE = "loupebook-practice";

/** Who practises in this window, or nobody: then it is the record's own window. */
export function practising(): string | undefined {
  return sessionStorage.getItem(FLAG) ?? undefined;
}

/** From the next load of this window on. */
export function keepPractising(person: string | undefined): void {
  if (person === undefined) sessionStorage.removeItem(FLAG);
  else sessionStorage.setItem(FLAG, person);
}

/** What the record is told where this window practises: another store, an address nobody has, a fetch that never asks. */
export const PRACTICE_SETTING: Pick<RecordSetting, "store" | "base" | "fetch"> = {
  store: PRACTICE_STORE,
  base: "practice:",
  fetch: () => Promise.reject(new TypeError("practice sends nothing")),
};
