/**
 * Holds what the serial photo shows against the scope that was scanned. Only a DI or serial number from a
 * code with a good check digit, or the four characters a person typed without seeing the record, can
 * contradict; everything else is a note (common practice, no source).
 */
import type { Code } from "./codes";

export interface OnRecord {
  readonly serial: string;
  readonly di?: string | undefined;
}

export type SerialAnswer =
  | { readonly agrees: "yes"; readonly code: string }
  | { readonly agrees: "no"; readonly code: string; readonly says: OnRecord }
  | { readonly agrees: "unknown" };

const plain = (text: string): string => text.normalize("NFC").trim().toUpperCase();

/** What the codes found in the serial photo say. One that contradicts outweighs any that agrees. */
export function answerOfCodes(codes: readonly Code[], record: OnRecord): SerialAnswer {
  let agrees: SerialAnswer = { agrees: "unknown" };
  for (const code of codes) {
    if (code.check !== "good") continue;
    const otherDi = code.di !== undefined && record.di !== undefined && code.di !== record.di;
    const otherSerial = code.serial !== undefined && plain(code.serial) !== plain(record.serial);
    if (otherDi || otherSerial) {
      return { agrees: "no", code: code.text, says: { serial: code.serial ?? "", di: code.di } };
    }
    if (code.serial !== undefined) agrees = { agrees: "yes", code: code.text };
  }
  return agrees;
}

/** How many characters are typed unseen: four, or the whole number where it is shorter. */
export function unseenLength(record: OnRecord): number {
  return Math.min(4, letters(record.serial).length);
}

/** Whether the characters typed are the last of the number on record; blanks and dashes do not count. */
export function lastFourAgrees(typed: string, record: OnRecord): boolean {
  return letters(typed) === letters(record.serial).slice(-unseenLength(record));
}

/** Whether the number on record can be typed on the ten-key pad. */
export function needsLetters(record: OnRecord): boolean {
  return /\D/.test(letters(record.serial).slice(-4));
}

function letters(serial: string): string {
  return plain(serial).replace(/[^\p{L}\p{N}]/gu, "");
}
