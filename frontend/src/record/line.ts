/** An entry to its one line and back. What this writes is hashed, stored and sent; nothing is written again. */
import type { Entry } from "./entry";
import { hashLine } from "./hash";
import type { EntryRow } from "./schema";
import { BadEntry } from "./trouble";

/** 64 KiB, the line feed left out. */
export const LONGEST_LINE = 65536;

const KEYS = [
  "v", "chain", "seq", "prev", "kind", "at", "clock", "person", "proof", "build", "about", "basis", "body", "photos",
] as const satisfies readonly (keyof Entry)[];

const encoder = new TextEncoder();
const decoder = new TextDecoder("utf-8", { fatal: true });

/** NFC, and lone surrogates replaced: they have no UTF-8. */
function plainText(text: string): string {
  return new TextDecoder().decode(encoder.encode(text)).normalize("NFC");
}

/** The same value with NFC text and no undefined fields. Raises BadEntry for what a line cannot hold. */
export function plain(value: unknown): unknown {
  switch (typeof value) {
    case "string":
      return plainText(value);
    case "boolean":
      return value;
    case "number":
      if (Number.isSafeInteger(value)) return Object.is(value, -0) ? 0 : value;
      throw new BadEntry(`not a whole number: ${value}`);
    case "object":
      if (value === null) return null;
      if (Array.isArray(value)) return value.map(plain);
      return plainFields(value);
    default:
      throw new BadEntry(`a line cannot hold a ${typeof value}`);
  }
}

function plainFields(value: object): Record<string, unknown> {
  const fields: Record<string, unknown> = {};
  for (const [key, inner] of Object.entries(value)) {
    if (inner === undefined) continue;
    const name = plainText(key);
    if (Object.hasOwn(fields, name)) throw new BadEntry(`a key twice: ${name}`);
    fields[name] = plain(inner);
  }
  return fields;
}

/** The line's bytes, without a line feed. Raises BadEntry where it is too long or not whole. */
export function writeLine(entry: Entry): Uint8Array<ArrayBuffer> {
  const ordered: Record<string, unknown> = {};
  for (const key of KEYS) {
    const value = entry[key];
    if (value !== undefined) ordered[key] = plain(value);
  }
  const line = encoder.encode(JSON.stringify(ordered));
  if (line.length > LONGEST_LINE) throw new BadEntry(`the line has ${line.length} bytes of at most ${LONGEST_LINE}`);
  return line;
}

/** A line of our own, from the store. Raises for bytes that are no line any more. */
export function readLine(line: Uint8Array): Entry {
  return JSON.parse(decoder.decode(line)) as Entry;
}

/**
 * The entry of a stored row, or undefined where its bytes are no longer those that were written: one rotten line is
 * left out and named, and takes nothing else with it.
 */
export function entryOf({ line, hash }: Pick<EntryRow, "line" | "hash">): Entry | undefined {
  if (hashLine(line) !== hash) return undefined;
  try {
    return readLine(line);
  } catch {
    return undefined;
  }
}
