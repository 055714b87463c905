import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/entries.json";
import type { Entry } from "./entry";
import { LONGEST_LINE, readLine, writeLine } from "./line";
import { BadEntry } from "./trouble";

/** shared/vectors/entries.json: the same cases run in Python (tests/vectors/test_entries.py); each names its source. */
const WRITE = vectors.write as unknown as readonly { description: string; input: Entry; expected: string }[];
const text = (line: Uint8Array): string => new TextDecoder().decode(line);
const entry = WRITE[0]!.input;

test.each(WRITE)("$description", ({ input, expected }) => expect(text(writeLine(input))).toBe(expected));

test("a line reads back as what was written", () => {
  for (const { input } of WRITE) expect(writeLine(readLine(writeLine(input)))).toEqual(writeLine(input));
});

test.each([0.5, 2 ** 53, Number.NaN, Number.POSITIVE_INFINITY, 1n, () => 1])("a line cannot hold %s", (value) => {
  expect(() => writeLine({ ...entry, body: { place: "sink", later: value } })).toThrow(BadEntry);
});

test("a line of 64 KiB is written and one byte more is not", () => {
  const spare = LONGEST_LINE - writeLine({ ...entry, body: { later: "" } }).length;
  expect(writeLine({ ...entry, body: { later: "x".repeat(spare) } })).toHaveLength(LONGEST_LINE);
  expect(() => writeLine({ ...entry, body: { later: "x".repeat(spare + 1) } })).toThrow(BadEntry);
});

test("half a character from a broken keyboard becomes the sign for it, not a line the server cannot read", () => {
  const line = text(writeLine({ ...entry, body: { note: "a\ud83d" } }));
  expect(line).toContain('"note":"a\ufffd"');
});
