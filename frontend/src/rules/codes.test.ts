/** The page's code readers against `shared/vectors/codes.json`; each vector names its source. */
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import file from "../../../shared/vectors/codes.json?raw";
import type { Code, Comparison } from "./codes";
import { compareSerials, keyOf, mmsKey, readCode } from "./codes";

interface Vector<Input, Expected> {
  readonly description: string;
  readonly source: string;
  readonly input: Input;
  readonly expected: Expected;
}

interface Vectors {
  readonly today_year: number;
  readonly read: readonly Vector<{ text: string; symbology?: string; today_year?: number }, Code>[];
  readonly keys: readonly Vector<{ text: string; confirmed: boolean }, string | null>[];
  readonly mms_keys: readonly Vector<{ maker: string; model: string; serial: string }, string | null>[];
  readonly serials: readonly Vector<{ a: string; b: string }, Comparison>[];
}

// Parsed here and not by the bundler, which refuses half a surrogate pair. The schema is checked on the server's side.
const vectors = JSON.parse(file) as Vectors;

describe("a text reads as its source says", () => {
  test.each(vectors.read)("$description", ({ input, expected }) => {
    const code = readCode(input.text, input.symbology ?? null, input.today_year ?? vectors.today_year);
    expect(code).toStrictEqual(expected);
  });
});

describe("a code gives its scope key", () => {
  test.each(vectors.keys)("$description", ({ input, expected }) => {
    expect(keyOf(readCode(input.text, null, vectors.today_year), input.confirmed)).toBe(expected);
  });
});

describe("maker, model and serial give one key", () => {
  test.each(vectors.mms_keys)("$description", ({ input, expected }) => {
    expect(mmsKey(input.maker, input.model, input.serial)).toBe(expected);
  });
});

describe("two serials differ where they do", () => {
  test.each(vectors.serials)("$description", ({ input, expected }) => {
    expect(compareSerials(input.a, input.b)).toStrictEqual(expected);
  });
});

test("no text makes the reader throw, and what it gives is plain JSON", { timeout: 30_000 }, () => {
  const pieces = fc.constantFrom("01", "10", "21", "\x1d", "(21)", "+A999SCOPE1", "/$$+", "https://a/01/96385074", "LB1:", "%2");
  const text = fc.oneof(fc.string({ unit: "binary", maxLength: 4096 }), fc.array(pieces, { maxLength: 400 }).map((all) => all.join("")));
  fc.assert(
    fc.property(text, fc.constantFrom(null, "]d2"), (any, symbology) => {
      const code = readCode(any, symbology, 2026);
      expect(JSON.parse(JSON.stringify(code))).toStrictEqual(code);
      keyOf(code, true);
    }),
    { numRuns: 300, seed: 20261125 },
  );
});

test.each(["\x1d", "01", "(21)", "20aa", "/", " ", "10", "$$8", "x \t"])(
  "time grows no faster than the text: %j",
  { timeout: 30_000 },
  (piece) => {
    const started = performance.now();
    for (const start of ["]d2", "(01)", "+$", "*+", "https://a/01/96385074/", ""]) {
      readCode(start + piece.repeat(500_000), null, 2026);
    }
    // Work that grows with the square of the text takes minutes here.
    expect(performance.now() - started).toBeLessThan(10_000);
  },
);
