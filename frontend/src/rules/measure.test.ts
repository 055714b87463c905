// capability: photos
import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/measure.json";
import { type Measured, mmSaid, saidBy } from "./measure";

/** shared/vectors/measure.json: the same cases run in Python (tests/vectors/test_measure.py); each names its source. */
test.each(vectors.lengths)("$description", ({ input, expected }) => {
  expect(saidBy(input as Measured) ?? null).toEqual(expected);
});

test("millimetres have as many decimals as the uncertainty has meaning, and it is rounded up", () => {
  expect(mmSaid({ um: 5004, plus_minus_um: 61 })).toEqual({ mm: 5, plusMinus: 0.07 });
  expect(mmSaid({ um: 12849, plus_minus_um: 1201 })).toEqual({ mm: 12.8, plusMinus: 1.3 });
});
