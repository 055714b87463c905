import { expect, test } from "vitest";
import { movedPlace, ticks } from "./ruler";

test("a ruler marks every 5 cm, the tens longer, and numbers every 20 within its length", () => {
  const marks = ticks(168, 720);
  expect(marks.map((tick) => tick.cm)).toEqual(Array.from({ length: 34 }, (_, i) => i * 5));
  expect(marks.filter((tick) => tick.numbered).map((tick) => tick.cm)).toEqual([0, 20, 40, 60, 80, 100, 120, 140, 160]);
  expect(marks.find((tick) => tick.cm === 84 - 4)?.x).toBeCloseTo((80 / 168) * 720, 6);
});

test("a place moves by whole steps and never leaves the scope", () => {
  expect(movedPlace(62, -1, 168)).toBe(61);
  expect(movedPlace(62, 10, 168)).toBe(72);
  expect(movedPlace(165, 10, 168)).toBe(168);
  expect(movedPlace(4, -10, 168)).toBe(0);
  expect(movedPlace(null, 10, 168)).toBe(10);
});
