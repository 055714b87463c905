import { expect, test } from "vitest";
import { type Grey, greyOf, lap2x100, meanGrey } from "./sharpness";

/** 96x64 grey values of a linear congruential generator (constants of Numerical Recipes). */
function pattern(): Grey {
  const values = new Uint8Array(96 * 64);
  let state = 1;
  for (let i = 0; i < values.length; i += 1) {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    values[i] = state >>> 24;
  }
  return { width: 96, height: 64, values };
}

test("the numbers agree with the server's on the shared pattern", () => {
  // The same pattern and numbers stand in tests/backend/test_looking.py.
  expect([lap2x100(pattern()), meanGrey(pattern())]).toEqual([808736, 127]);
});

test("an impulse gives the variance worked out by hand", () => {
  const values = new Uint8Array(64);
  values[4 * 8 + 4] = 64;
  // 2x2 means are 16 at four places; their Laplacian over the 5x5 inside is -32 four times and +16 eight times,
  // so the mean is 0 and the variance (4 * 1024 + 8 * 256) / 25.
  expect(lap2x100({ width: 8, height: 8, values })).toBe(24576);
});

test("a flat picture and a steady slope have no sharpness", () => {
  const flat = new Uint8Array(100).fill(90);
  const slope = Uint8Array.from({ length: 100 }, (_, i) => (i % 10) * 20);
  expect(lap2x100({ width: 10, height: 10, values: flat })).toBe(0);
  expect(lap2x100({ width: 10, height: 10, values: slope })).toBe(0);
});

test("a picture too small to measure has none, an empty one no brightness", () => {
  expect(lap2x100({ width: 3, height: 9, values: new Uint8Array(27).fill(7) })).toBe(0);
  expect(meanGrey({ width: 0, height: 0, values: new Uint8Array() })).toBe(0);
});

test("grey is weighted as in ITU-R BT.601: 0.299 red, 0.587 green, 0.114 blue", () => {
  const rgba = Uint8ClampedArray.from([255, 0, 0, 255, 0, 255, 0, 255, 0, 0, 255, 255, 255, 255, 255, 255]);
  expect([...greyOf(rgba, 4, 1).values]).toEqual([76, 150, 29, 255]);
});
