import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/shifts.json";
import { shiftOf } from "./shifts";

test.each(vectors.cases)("$description", ({ moment, expected }) => {
  expect(shiftOf("Sink 1", new Date(moment), vectors.hours, vectors.zone)).toBe(`Sink 1/${expected}`);
});

test("work after the last shift of the day belongs to it", () => {
  const day = vectors.hours.slice(0, 1);
  expect(shiftOf("Sink 1", new Date("2025-11-25T03:00:00-05:00"), day, vectors.zone)).toBe("Sink 1/2025-11-24/day");
});

test("without hours there is no shift", () => {
  expect(shiftOf("Sink 1", new Date("2025-11-25T03:00:00-05:00"), [], vectors.zone)).toBeUndefined();
});
