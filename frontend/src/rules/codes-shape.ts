/**
 * What a code says once it is read: the shape both languages return, and its closed lists.
 * The meaning of every word stands in `backend/loupebook/rules/codes_shape.py`, its twin.
 */

/** How the text is built. */
export type Form =
  | "gs1" | "gs1_human" | "gs1_link" | "hibc" | "iccbba" | "plain" | "command" | "badge" | "own" | "enrol";

/** Check digit (GS1: of the DI) or check character (HIBC: of the whole text); none: nothing to check. */
export type Check = "good" | "bad" | "none";

export type Issuer = "GS1" | "HIBCC" | "ICCBBA";

/** What a laminated card or a foot switch may ask for. */
export const COMMANDS = [
  "nothing-found", "photo", "next", "back", "undo", "zone", "could-not-look", "conclude", "confirm", "wipe",
  "answer-1", "answer-2", "answer-3", "answer-4", "answer-5", "answer-6", "answer-7", "answer-8",
] as const;
export type Command = (typeof COMMANDS)[number];

/** What a person or the rules should know beside the values. */
export type NoteCode =
  | "case_changed" | "character_not_allowed" | "check_digit_wrong" | "date_day_zero" | "date_not_real"
  | "field_twice" | "gs_replaced" | "human_form_in_code" | "iccbba_not_supported" | "link_host_ignored"
  | "no_serial" | "not_digits" | "own_not_known" | "secondary_only" | "separator_may_be_missing"
  | "symbology_stripped" | "text_cut" | "too_short" | "unknown_ai" | "value_too_long";

/** One way to part a run-together lot and serial. */
export interface Split {
  readonly lot: string;
  readonly serial: string;
}

/** One remark; `ai` names the field, `expected` and `found` go with a check character. */
export interface Note {
  readonly note: NoteCode;
  readonly ai?: string;
  readonly expected?: string;
  readonly found?: string;
  readonly readings?: readonly Split[];
}

/** What a label of ours carries; `once` is the one-time code of an enrol label. */
export interface Own {
  readonly kind: "scope" | "tool" | "person" | "command" | "enrol" | "repair" | "place" | "offer";
  readonly value: string;
  readonly once?: string;
}

/** A code as read. Dates are `YYYY-MM-DD`, an expiry with an hour `YYYY-MM-DDTHH`. */
export interface Code {
  readonly form: Form;
  readonly di?: string;
  readonly serial?: string;
  readonly lot?: string;
  readonly made?: string;
  readonly expires?: string;
  readonly issuer?: Issuer;
  readonly own?: Own;
  readonly symbology?: string;
  readonly check: Check;
  readonly notes: readonly Note[];
  readonly text: string;
}

export type Field = "di" | "serial" | "lot" | "made" | "expires";

const DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31] as const;

/** What has been gathered from one text so far; the first value of a field stays. */
export class Found {
  readonly fields: Partial<Record<Field, string>> = {};
  readonly notes: Note[] = [];
  check: Check = "none";
  private readonly told = new Set<string>();

  constructor(readonly todayYear: number) {}

  /** Remark `note` once for each field. */
  note(note: NoteCode, ai = ""): void {
    this.say(ai === "" ? { note } : { note, ai });
  }

  /** Remark a note that carries more than its field. */
  say(note: Note): void {
    const told = `${note.note} ${note.ai ?? ""}`;
    if (this.told.has(told)) return;
    this.told.add(told);
    this.notes.push(note);
  }

  /** Keep `value`, unless the field has one already; two that differ are remarked. */
  put(field: Field, value: string, ai: string): void {
    const kept = (this.fields[field] ??= value);
    if (kept !== value) this.note("field_twice", ai);
  }

  /** Keep a date, or remark that there is no such day. */
  putDate(field: Field, date: string | null, ai: string): void {
    if (date === null) this.note("date_not_real", ai);
    else this.put(field, date, ai);
  }
}

/** True for one or more of 0-9 and nothing else. */
export function allDigits(text: string): boolean {
  return /^[0-9]+$/.test(text);
}

/** The two-digit numbers of a text of digits, from the left; an odd one at the end is left out. */
export function pairs(digits: string): number[] {
  return Array.from({ length: Math.floor(digits.length / 2) }, (_, at) => Number(digits.slice(2 * at, 2 * at + 2)));
}

/** The year meant by two digits: 49 years back to 50 ahead (GS1 General Specifications 7.12). */
export function fullYear(twoDigits: number, todayYear: number): number {
  const century = todayYear - (todayYear % 100);
  const ahead = twoDigits - (todayYear % 100);
  if (ahead >= 51) return century - 100 + twoDigits;
  if (ahead <= -50) return century + 100 + twoDigits;
  return century + twoDigits;
}

/** Days of a month 1-12 in the Gregorian calendar. */
export function daysIn(year: number, month: number): number {
  const leap = year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0);
  return month === 2 && leap ? 29 : (DAYS[month - 1] ?? 0);
}

/** `YYYY-MM-DD`, or null where the calendar has no such day. */
export function realDate(year: number, month: number, day: number): string | null {
  if (month < 1 || month > 12 || day < 1 || day > daysIn(year, month)) return null;
  return `${digits(year, 4)}-${digits(month, 2)}-${digits(day, 2)}`;
}

/** The last day of a month, for dates that name a month only. */
export function monthEnd(year: number, month: number): string | null {
  return realDate(year, month, daysIn(year, month));
}

function digits(value: number, length: number): string {
  return String(value).padStart(length, "0");
}

/** `text` without the characters of `ends` at its end, in one walk. */
export function trimEnd(text: string, ends: string): string {
  let stop = text.length;
  while (stop > 0 && ends.includes(text[stop - 1] ?? "x")) stop -= 1;
  return text.slice(0, stop);
}
