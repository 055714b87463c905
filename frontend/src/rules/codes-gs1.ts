/**
 * GS1: element strings, the bracketed form beside them, and Digital Link addresses.
 * Only 01 (DI), 10 (lot), 11 (made), 17 (expires) and 21 (serial) are taken; every other field is
 * stepped over by the lengths of the GS1 General Specifications. Twin: `codes_gs1.py`.
 */
import type { Field, Found, Split } from "./codes-shape";
import { allDigits, fullYear, monthEnd, pairs, realDate } from "./codes-shape";

export const GS = "\x1d";

type Rows = readonly (readonly [value: number, first: number, last: number])[];

function byStart(rows: Rows): ReadonlyMap<string, number> {
  const table = new Map<string, number>();
  for (const [value, first, last] of rows) {
    for (let n = first; n <= last; n += 1) table.set(String(n).padStart(2, "0"), value);
  }
  return table;
}

/** First two digits of an application identifier -> how many digits it has. */
const AI_DIGITS = byStart([
  [2, 0, 3], [2, 10, 13], [2, 15, 17], [2, 20, 22], [2, 30, 30], [2, 37, 37], [2, 90, 99],
  [3, 23, 25], [3, 40, 42], [3, 71, 71],
  [4, 31, 36], [4, 39, 39], [4, 43, 43], [4, 70, 70], [4, 72, 72], [4, 80, 82],
]);

/**
 * First two digits -> characters with the AI, for fields that need no separator after them
 * (GS1 General Specifications, table of predefined lengths). All others end with a separator.
 */
const FIXED = byStart([[20, 0, 0], [16, 1, 3], [18, 4, 4], [8, 11, 19], [4, 20, 20], [10, 31, 36], [16, 41, 41]]);

const LONGEST = 20;
const SET_82 = /^[!"%&'()*+,\-./0-9:;<=>?A-Z_a-z]+$/;

/** The mod-10 digit that belongs after `digits`: weights 3, 1, 3 ... from the right. */
export function gtinCheckDigit(digits: string): string {
  const total = [...digits].reverse().reduce((sum, digit, at) => sum + Number(digit) * (at % 2 === 0 ? 3 : 1), 0);
  return String((10 - (total % 10)) % 10);
}

/** Whether bare text begins with an application identifier somebody has assigned. */
export function startsWithAi(text: string): boolean {
  return AI_DIGITS.has(text.slice(0, 2));
}

/** Whether bare text reads as an element string: 01, 14 digits, and a good check digit or more. */
export function startsLikeElements(text: string): boolean {
  if (!/^01[0-9]{14}/.test(text)) return false;
  return text.length > 16 || gtinCheckDigit(text.slice(2, 15)) === text[15];
}

/** Whether text begins with a bracketed application identifier. */
export function startsLikeHuman(text: string): boolean {
  return /^\([0-9]{2,4}\)/.test(text);
}

function isKnown(ai: string): boolean {
  return AI_DIGITS.get(ai.slice(0, 2)) === ai.length;
}

interface Element {
  readonly ai: string;
  readonly value: string;
  readonly next: number;
}

/** Read an element string. `exact`: a decoder gave every byte, so no separator can be lost. */
export function readElements(text: string, found: Found, exact: boolean): void {
  const runs = text.split(GS).map((run) => readRun(run, found));
  const [only] = runs;
  if (!exact && runs.length === 1 && only !== undefined) doubtMissingSeparator(only.ai, only.value, found);
}

/** Read what stands between two separators; return the last element. */
function readRun(run: string, found: Found): Element {
  let last: Element = { ai: "", value: "", next: 0 };
  while (last.next < run.length) {
    last = nextElement(run, last.next, found);
    take(last.ai, last.value, found);
  }
  return last;
}

/** The element at `at`; its AI is "" where it is unknown or cut short. */
function nextElement(run: string, at: number, found: Found): Element {
  const start = run.slice(at, at + 2);
  const next = at + (FIXED.get(start) ?? run.length - at);
  if (next > run.length) {
    found.note("too_short", start);
    return { ai: "", value: "", next: run.length };
  }
  const digits = AI_DIGITS.get(start);
  if (digits === undefined) {
    found.note("unknown_ai", start);
    return { ai: "", value: "", next };
  }
  return { ai: run.slice(at, at + digits), value: run.slice(at + digits, next), next };
}

/** Keep the value of a field we use. */
export function take(ai: string, value: string, found: Found): void {
  if (ai === "01") takeDi(value, found);
  else if (ai === "11") takeDate("made", ai, value, found);
  else if (ai === "17") takeDate("expires", ai, value, found);
  else if (ai === "10") takeText("lot", ai, value, found);
  else if (ai === "21") takeText("serial", ai, value, found);
}

function takeDi(value: string, found: Found): void {
  if (!allDigits(value)) {
    found.note("not_digits", "01");
    return;
  }
  if (value.length !== 14) {
    found.note(value.length < 14 ? "too_short" : "value_too_long", "01");
    return;
  }
  if (found.fields.di === undefined) {
    const expected = gtinCheckDigit(value.slice(0, 13));
    const last = value.slice(13);
    found.check = last === expected ? "good" : "bad";
    if (found.check === "bad") found.say({ note: "check_digit_wrong", ai: "01", expected, found: last });
  }
  found.put("di", value, "01");
}

function takeDate(field: Field, ai: string, value: string, found: Found): void {
  if (value.length === 6 && value.endsWith("00") && allDigits(value)) found.note("date_day_zero", ai);
  found.putDate(field, shortDate(value, found.todayYear), ai);
}

/** YYMMDD, day 00 meaning the last of the month; null where there is no such day. */
function shortDate(value: string, todayYear: number): string | null {
  if (value.length !== 6 || !allDigits(value)) return null;
  const [year = 0, month = 0, day = 0] = pairs(value);
  const full = fullYear(year, todayYear);
  return day === 0 ? monthEnd(full, month) : realDate(full, month, day);
}

function takeText(field: Field, ai: string, value: string, found: Found): void {
  if (value === "") {
    found.note("too_short", ai);
    return;
  }
  if (value.length > LONGEST) found.note("value_too_long", ai);
  if (!SET_82.test(value)) found.note("character_not_allowed", ai);
  found.put(field, value, ai);
}

/**
 * Remark where a keyboard reader may have dropped the separator after a lot or serial.
 * Such a reader turns `10A213B1<GS>211234` into lot `A213B1211234` and no serial.
 */
function doubtMissingSeparator(ai: string, value: string, found: Found): void {
  if (ai !== "10" && ai !== "21") return;
  const otherIsThere = found.fields[ai === "10" ? "serial" : "lot"] !== undefined;
  const readings = otherIsThere ? [] : splits(ai, value);
  if (readings.length > 0 || value.length > LONGEST || endsWithDate(value, found.todayYear)) {
    found.say({ note: "separator_may_be_missing", ai, readings });
  }
}

function splits(ai: "10" | "21", value: string): Split[] {
  const other = ai === "10" ? "21" : "10";
  const ways: Split[] = [];
  for (let at = 1; at <= Math.min(LONGEST, value.length - 3); at += 1) {
    const head = value.slice(0, at);
    const rest = value.slice(at + 2);
    if (value.slice(at, at + 2) !== other || rest.length > LONGEST) continue;
    ways.push(ai === "10" ? { lot: head, serial: rest } : { lot: rest, serial: head });
  }
  return ways;
}

function endsWithDate(value: string, todayYear: number): boolean {
  const tail = value.length > 8 ? /^(?:11|17)([0-9]{6})$/.exec(value.slice(-8)) : null;
  return tail !== null && shortDate(tail[1] ?? "", todayYear) !== null;
}

/** Read the bracketed form; blanks inside values are print, not data. */
export function readHuman(text: string, found: Found): void {
  const marks = [...text.matchAll(/\(([0-9]{2,4})\)/g)];
  marks.forEach((mark, at) => {
    const ai = mark[1] ?? "";
    const value = text.slice(mark.index + mark[0].length, marks[at + 1]?.index);
    if (isKnown(ai)) take(ai, value.replace(/[ \t\r\n]+/g, ""), found);
    else found.note("unknown_ai", ai);
  });
}

/** Read a Digital Link address of any host; false where it is some other address or text. */
export function readLink(text: string, found: Found): boolean {
  const scheme = /^https?:\/\//i.exec(text);
  if (scheme === null) return false;
  const [path, query] = cut(cut(text.slice(scheme[0].length), "#")[0], "?");
  const steps = path.split("/");
  const at = steps.findIndex((step, n) => n > 0 && step === "01" && isGtin(steps[n + 1]));
  if (at < 0) return false;
  found.note("link_host_ignored");
  take("01", (steps[at + 1] ?? "").padStart(14, "0"), found);
  for (let n = at + 2; n + 1 < steps.length; n += 2) takeFromLink(steps[n] ?? "", steps[n + 1] ?? "", found);
  for (const pair of query.split("&")) {
    const [key, value] = cut(pair, "=");
    if (["10", "11", "17", "21"].includes(key)) take(key, unescape(value), found);
  }
  return true;
}

function isGtin(step: string | undefined): boolean {
  return step !== undefined && /^(?:[0-9]{8}|[0-9]{12,14})$/.test(step);
}

function takeFromLink(key: string, value: string, found: Found): void {
  if (isKnown(key)) take(key, unescape(value), found);
  else if (key !== "") found.note("unknown_ai", key.slice(0, 4));
}

/** The text before the first `mark` and the text after it. */
function cut(text: string, mark: string): [string, string] {
  const at = text.indexOf(mark);
  return at < 0 ? [text, ""] : [text.slice(0, at), text.slice(at + mark.length)];
}

/** Undo %-escapes of printable ASCII; any other escape stays as it stands. */
function unescape(value: string): string {
  return value.replace(/%([0-9A-Fa-f]{2})/g, (whole, hex: string) => {
    const code = Number.parseInt(hex, 16);
    return code >= 0x20 && code <= 0x7e ? String.fromCharCode(code) : whole;
  });
}
