import { expect, test } from "vitest";
import type { ScannedCode } from "../workers/scan-messages";
import { HINT_AFTER_MS, OUT_OF_SIGHT_MS, Sightings } from "./scan-sightings";

function code(text: string, format: ScannedCode["format"] = "DataMatrix"): ScannedCode {
  return { text, format, symbology: "]d1", contentType: "Text", corners: [[0, 0], [1, 0], [1, 1], [0, 1]] };
}

test("a code in sight is told once", () => {
  const sightings = new Sightings(0);
  const told = [0, 33, 66, 1500, 2900].flatMap((at) => sightings.see([code("A")], at));
  expect(told).toHaveLength(1);
});

test("a code that comes back after it was out of sight is told again", () => {
  const sightings = new Sightings(0);
  expect(sightings.see([code("A")], 0)).toHaveLength(1);
  expect(sightings.see([code("A")], OUT_OF_SIGHT_MS)).toHaveLength(1);
});

test("two codes in one frame are told both", () => {
  expect(new Sightings(0).see([code("A"), code("B")], 0)).toHaveLength(2);
});

test("Code 39 is told at its second sighting, and only if the first is fresh", () => {
  const sightings = new Sightings(0);
  expect(sightings.see([code("A", "Code39")], 0)).toEqual([]);
  expect(sightings.see([code("B", "Code39")], 33)).toEqual([]);
  expect(sightings.see([code("B", "Code39")], 66)).toHaveLength(1);
  expect(sightings.see([code("A", "Code39")], 5000)).toEqual([]);
  expect(sightings.see([code("B", "Code39")], 99)).toEqual([]);
});

test("the hint comes after two seconds without any code and goes with the next", () => {
  const sightings = new Sightings(1000);
  expect(sightings.hint(1000 + HINT_AFTER_MS - 1)).toBeNull();
  expect(sightings.hint(1000 + HINT_AFTER_MS)).toBe("level_the_code");
  sightings.see([code("A", "Code39")], 4000);
  expect(sightings.hint(4001)).toBeNull();
});
