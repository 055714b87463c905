/**
 * HIBC: product code, lot or serial code, and the two in one, with the mod-43 check character.
 * Sources of the forms and date digits stand in the twin, `codes_hibc.py`.
 */
import type { Field, Found } from "./codes-shape";
import { allDigits, daysIn, fullYear, monthEnd, pairs, realDate, trimEnd } from "./codes-shape";

/** Place of a character = its value in the check sum. */
const ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%";

const PRIMARY = /^[A-Z][A-Z0-9]{3}[A-Z0-9]{1,18}[0-9]$/;
const BEGINS_PRIMARY = /^\+[A-Z][A-Z0-9]{3}[A-Z0-9]{1,18}[0-9](?:\/|[\s\S]$)/;
const LONGEST = 18;
const DATE_LENGTHS: ReadonlyMap<string, number> = new Map([["0", 4], ["2", 6], ["3", 6], ["4", 8], ["5", 5], ["6", 7]]);

/** The mod-43 character that belongs after `text`; null where a character has no value. */
export function checkCharacter(text: string): string | null {
  let total = 0;
  for (const character of text) {
    const value = ALPHABET.indexOf(character);
    if (value < 0) return null;
    total += value;
  }
  return ALPHABET[total % 43] ?? null;
}

/**
 * Read a HIBC text (`+...` or, as printed, `*+...*`); false where it is no HIBC.
 * A wrong check character is remarked and never refuses the scope: public examples carry some.
 */
export function readHibc(text: string, found: Found): boolean {
  const ended = trimEnd(text, " ");
  const printed = text.startsWith("*+") && ended.endsWith("*");
  const bare = printed ? ended.slice(1, -1) : text;
  const body = bare.endsWith("_") ? `${bare.slice(0, -1)} ` : bare;
  const capital = body.replace(/[a-z]/g, (small) => small.toUpperCase());
  if (capital.length < 4 || !capital.startsWith("+")) return false;
  const last = capital.slice(-1);
  const expected = checkCharacter(capital.slice(0, -1));
  const good = expected === last;
  const beginsDated = good && /^\+[0-9]{5}/.test(capital);
  if (!(capital[1] === "$" || beginsDated || BEGINS_PRIMARY.test(capital))) return false;
  if (capital !== body) found.note("case_changed");
  found.check = good ? "good" : "bad";
  if (expected === null) found.note("character_not_allowed");
  else if (!good) found.say({ note: "check_digit_wrong", expected, found: last });
  readParts(capital.slice(1, -1), found);
  return true;
}

function readParts(data: string, found: Found): void {
  const [first = "", ...rest] = data.split("/");
  if (PRIMARY.test(first)) {
    found.put("di", first, "+");
    for (const part of rest) readData(part, found);
    return;
  }
  found.note("secondary_only");
  // The last character links to the product code: a copy of its check character, not data.
  const parts = [first, ...rest];
  parts.forEach((part, at) => readData(at === parts.length - 1 ? part.slice(0, -1) : part, found));
}

function readData(part: string, found: Found): void {
  if (part.startsWith("$$+")) readDated("serial", "$$+", part.slice(3), found);
  else if (part.startsWith("$$")) readDated("lot", "$$", part.slice(2), found);
  else if (part.startsWith("$+")) putText("serial", "$+", part.slice(2), found);
  else if (part.startsWith("$")) putText("lot", "$", part.slice(1), found);
  else if (part.startsWith("14D")) found.putDate("expires", longDate(part.slice(3)), "14D");
  else if (part.startsWith("16D")) found.putDate("made", longDate(part.slice(3)), "16D");
  else if (part.startsWith("S")) putText("serial", "S", part.slice(1), found);
  else if (/^[0-9]{5}/.test(part)) {
    found.putDate("expires", shortDate("5", part.slice(0, 5), found), "+");
    putText("lot", "+", part.slice(5), found);
  } else if (!/^Q[0-9]+$/.test(part)) found.note("unknown_ai", part.slice(0, 3));
}

function putText(field: Field, ai: string, value: string, found: Found): void {
  if (value === "") {
    found.note("too_short", ai);
    return;
  }
  if (value.length > LONGEST) found.note("value_too_long", ai);
  found.put(field, value, ai);
}

/** Read `[8QQ|9QQQQQ][date]rest`: how many are in the pack, expiry, then lot or serial. */
function readDated(field: Field, ai: string, value: string, found: Found): void {
  const counted = value.startsWith("8") ? 3 : value.startsWith("9") ? 6 : 0;
  if (counted > 0 && (value.length < counted || !allDigits(value.slice(0, counted)))) found.note("not_digits", ai);
  const rest = readExpiry(value.slice(counted), ai, counted > 0, found);
  if (rest !== "") putText(field, ai, rest, found);
}

/** Read the date in front, if there is one, and return what follows it. */
function readExpiry(value: string, ai: string, counted: boolean, found: Found): string {
  const first = value.slice(0, 1);
  if (first === "7") return value.slice(1);
  const dateDigit = first === "1" ? "0" : first;
  const length = DATE_LENGTHS.get(dateDigit);
  if (length === undefined) {
    if (!counted) found.note("date_not_real", ai);
    return value;
  }
  const start = dateDigit === "0" ? 0 : 1;
  found.putDate("expires", shortDate(dateDigit, value.slice(start, start + length), found), ai);
  return value.slice(start + length);
}

/** Expiry by its date digit: 0 MMYY, 2 MMDDYY, 3 YYMMDD, 4 YYMMDDHH, 5 YYJJJ, 6 YYJJJHH. */
function shortDate(digit: string, value: string, found: Found): string | null {
  if (value.length !== DATE_LENGTHS.get(digit) || !allDigits(value)) return null;
  const [one = 0, two = 0, three = 0] = pairs(value);
  const year = (twoDigits: number): number => fullYear(twoDigits, found.todayYear);
  if (digit === "0") {
    found.note("date_day_zero");
    return monthEnd(year(two), one);
  }
  if (digit === "2") return realDate(year(three), one, two);
  if (digit === "5" || digit === "6") return withHour(dayOfYear(year(one), Number(value.slice(2, 5))), value.slice(5));
  return withHour(realDate(year(one), two, three), value.slice(6));
}

function dayOfYear(year: number, day: number): string | null {
  let left = day;
  for (let month = 1; month <= 12; month += 1) {
    const days = daysIn(year, month);
    if (left <= days) return realDate(year, month, left);
    left -= days;
  }
  return null;
}

function withHour(date: string | null, hour: string): string | null {
  if (date === null || hour === "") return date;
  return Number(hour) <= 23 ? `${date}T${hour}` : null;
}

function longDate(value: string): string | null {
  if (value.length !== 8 || !allDigits(value)) return null;
  return realDate(Number(value.slice(0, 4)), Number(value.slice(4, 6)), Number(value.slice(6)));
}
