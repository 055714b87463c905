/** The key of a scope, and two serial numbers held side by side. Twin: `codes_keys.py`. */
import type { Code, NoteCode } from "./codes-shape";

const LONGEST_KEY = 300;
const ASKS_FIRST: readonly NoteCode[] = ["separator_may_be_missing", "field_twice"];
const BLANKS = /[\t-\r\x20\x85\xa0\u1680\u2000-\u200b\u2028\u2029\u202f\u205f\u3000\ufeff]+/g;
/** Characters that are taken for one another on a worn mark (common practice, no source). */
const ALIKE = ["0Oo", "1Iil", "5Ss", "8B", "2Zz"] as const;

/** One place where two serials part: `at` counts from 0; "" where one is shorter. */
export interface Difference {
  readonly at: number;
  readonly a: string;
  readonly b: string;
  readonly alike: boolean;
}

/** Two serials held side by side; `same` where nothing differs. */
export interface Comparison {
  readonly same: boolean;
  readonly differences: readonly Difference[];
}

/**
 * `udi:DI/SERIAL`, or null where the code does not name one scope.
 *
 * Without `confirmed` (a person looked at the mark and stands by it) there is no key for a wrong
 * check character, a separator that may be missing, or a field with two values. A DI alone is a
 * model, not a scope (21 CFR 830.3). The serial is kept letter for letter.
 */
export function keyOf(code: Code, confirmed = false): string | null {
  if (code.di === undefined || code.serial === undefined) return null;
  const doubtful = code.check === "bad" || code.notes.some(({ note }) => ASKS_FIRST.includes(note));
  if (doubtful && !confirmed) return null;
  return notTooLong(`udi:${code.di}/${code.serial}`);
}

/**
 * `mms:MAKER|MODEL|SERIAL` for a scope without a UDI, or null where one of the three is empty.
 *
 * Each is normalised so that two people who type it apart get one key: NFC, capitals, no blanks
 * at the ends, one blank for any run of blanks. `%` and `|` inside are written %25 and %7C.
 */
export function mmsKey(maker: string, model: string, serial: string): string | null {
  const parts = [maker, model, serial].map(normal);
  if (parts.includes("")) return null;
  return notTooLong(`mms:${parts.map((part) => part.replaceAll("%", "%25").replaceAll("|", "%7C")).join("|")}`);
}

function notTooLong(key: string): string | null {
  return [...key].length <= LONGEST_KEY ? key : null;
}

function normal(text: string): string {
  const capital = text.normalize("NFC").toUpperCase().normalize("NFC");
  return capital.replace(BLANKS, " ").replace(/^ | $/g, "");
}

/** Where two serials differ, character by character; `alike` marks pairs often confused. */
export function compareSerials(a: string, b: string): Comparison {
  const [left, right] = [[...a], [...b]];
  const differences: Difference[] = [];
  for (let at = 0; at < Math.max(left.length, right.length); at += 1) {
    const [one, other] = [left[at] ?? "", right[at] ?? ""];
    if (one !== other) differences.push({ at, a: one, b: other, alike: areAlike(one, other) });
  }
  return { same: differences.length === 0, differences };
}

function areAlike(one: string, other: string): boolean {
  return one !== "" && other !== "" && ALIKE.some((group) => group.includes(one) && group.includes(other));
}
