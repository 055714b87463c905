import { expect, test } from "vitest";
import { drawn, notDue, type FrequencyRow, type Known } from "./frequency";

// How a facility counts is its own choice: invented tables and moments, no source outside.
const NOW = Date.parse("2026-11-25T10:00:00Z");
const DAY = 86_400_000;
const row = (how: Partial<FrequencyRow>): FrequencyRow => ({ scope_kind: "colonoscope", point: "after_cleaning", parts: ["ch_air"], source: "the facility's own choice", ...how });
const known = (looked: number | undefined, cycles?: readonly number[]): Known => ({
  scope: "udi:1/2", scopeKind: "colonoscope", point: "after_cleaning", now: NOW,
  looked: new Map(looked === undefined ? [] : [["ch_air", looked]]), cycles,
});
const left = (how: Partial<FrequencyRow>, what: Known): readonly string[] => notDue({ v: 1, rows: [row(how)] }, what);

test("a part looked at within its days is left out, a day later it is due again", () => {
  expect(left({ every_days: 7 }, known(NOW - 7 * DAY + 1))).toEqual(["ch_air"]);
  expect(left({ every_days: 7 }, known(NOW - 7 * DAY))).toEqual([]);
});

test("what nobody looked at, or nobody counted, is due", () => {
  expect(left({ every_days: 7 }, known(undefined))).toEqual([]);
  expect(left({ every_cycles: 3 }, known(NOW - DAY))).toEqual([]);
});

test("every third cycle: the look is the first of three", () => {
  const looked = NOW - 3 * DAY;
  expect(left({ every_cycles: 3 }, known(looked, [looked + 1, looked + DAY]))).toEqual(["ch_air"]);
  expect(left({ every_cycles: 3 }, known(looked, [looked + 1, looked + DAY, looked + 2 * DAY]))).toEqual([]);
});

test("a sample is drawn by scope, point and day, and comes near its share", () => {
  const days = Array.from({ length: 2000 }, (_, day) => drawn(20, { scope: "udi:1/2", point: "after_cleaning", now: NOW + day * DAY }));
  expect(days.filter(Boolean).length / days.length).toBeGreaterThan(0.16);
  expect(days.filter(Boolean).length / days.length).toBeLessThan(0.24);
  expect(drawn(100, known(undefined))).toBe(true);
  expect(drawn(0, known(undefined))).toBe(false);
});
