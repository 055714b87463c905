import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/units.json";
import { fit, frOfUm, mmOfUm, NotASize, paOf, pressureText, umOfFr, umOfMm } from "./units";

/** shared/vectors/units.json: the same cases run in Python (tests/vectors/test_units.py); each names its source. */
test.each(vectors.mm_of_fr)("$description in mm", ({ input, expected }) => expect(mmOfUm(umOfFr(input))).toBe(expected));
test.each(vectors.fr_of_mm)("$description in Fr", ({ input, expected }) => expect(frOfUm(umOfMm(input))).toBe(expected));
test.each(vectors.fit)("$description", ({ input, expected }) => {
  const { fits, fillsPermille } = fit(umOfMm(input.borescope_mm), umOfMm(input.channel_mm));
  expect({ fits, fills_permille: fillsPermille }).toEqual(expected);
});
test.each(vectors.pressure)("pressure: $description", ({ input, expected }) => {
  const pa = paOf(input.text, input.unit);
  expect({ pa, shown: pressureText(pa, input.unit) }).toEqual(expected);
});
test.each(vectors.no_pressure)("no pressure: $description", ({ input }) => expect(() => paOf(input.text, input.unit)).toThrow(NotASize));
test("a pressure of before units were kept is shown in kilopascals", () => expect(pressureText(21_500, null)).toBe("21.5 kPa"));
test.each(vectors.refused)("no size: $description", ({ input }) => {
  expect(() => umOfMm(input)).toThrow(NotASize);
  expect(() => umOfFr(input)).toThrow(NotASize);
});
