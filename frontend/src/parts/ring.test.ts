import fc from "fast-check";
import { expect, test } from "vitest";
import { moveRing, type RingMove } from "./ring";

const moves: RingMove[] = ["left", "right", "up", "down", "larger", "smaller"];

test("however a ring is moved, its numbers stay whole and on the photo", () => {
  fc.assert(fc.property(
    fc.record({ x: fc.integer({ min: 0, max: 10000 }), y: fc.integer({ min: 0, max: 10000 }), r: fc.integer({ min: 200, max: 5000 }) }),
    fc.array(fc.constantFrom(...moves), { maxLength: 60 }),
    (start, way) => {
      const end = way.reduce(moveRing, start);
      for (const value of [end.x, end.y, end.r]) {
        expect(Number.isInteger(value)).toBe(true);
        expect(value).toBeGreaterThanOrEqual(0);
        expect(value).toBeLessThanOrEqual(10000);
      }
      expect(end.r).toBeGreaterThanOrEqual(1);
    },
  ));
});

test("there and back again is where it began", () => {
  const start = { x: 5000, y: 5000, r: 1200 };
  for (const [there, back] of [["left", "right"], ["up", "down"], ["larger", "smaller"]] as const) {
    expect(moveRing(moveRing(start, there), back)).toEqual(start);
    expect(moveRing(start, there)).not.toEqual(start);
  }
});
