import fc from "fast-check";
import { expect, test } from "vitest";
import { pieces } from "./sentence";

test("the chosen words are underlined where they stand, in order", () => {
  const found = pieces("Insertion tube: peeling coat, moderate, 62 cm from the tip. New.", ["peeling coat, moderate", "62 cm from the tip", "New"]);
  expect(found.filter((piece) => piece.strong).map((piece) => piece.text)).toEqual(["peeling coat, moderate", "62 cm from the tip", "New"]);
});

test("no letter of the sentence is lost or doubled, whatever is chosen", () => {
  fc.assert(fc.property(fc.string(), fc.array(fc.string({ maxLength: 4 }), { maxLength: 4 }), (sentence, chosen) => {
    expect(pieces(sentence, chosen).map((piece) => piece.text).join("")).toBe(sentence);
  }));
});
