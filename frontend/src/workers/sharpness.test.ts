// capability: photos
import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/sharpness.json";
import { type Grey, greyOf, measure } from "./sharpness";

interface Drawn {
  readonly width: number;
  readonly height: number;
  readonly seed: number;
  readonly block: number;
  readonly over: number;
  readonly gain: number;
  readonly add: number;
}

/** As `drawn` of tests/vectors/test_sharpness.py. */
function drawn({ width, height, seed, block, over, gain, add }: Drawn): Grey {
  const wide = Math.ceil((width + over) / block);
  const high = Math.ceil((height + over) / block);
  const cells = new Uint8Array(wide * high);
  let state = seed;
  for (let at = 0; at < cells.length; at += 1) {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    cells[at] = state >>> 24;
  }
  const values = new Uint8Array(width * height);
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) {
      let sum = 0;
      for (let down = 0; down < over; down += 1) {
        for (let right = 0; right < over; right += 1) sum += cells[Math.floor((y + down) / block) * wide + Math.floor((x + right) / block)]!;
      }
      values[y * width + x] = Math.min(255, Math.floor((Math.floor(sum / (over * over)) * gain) / 16) + add);
    }
  }
  return { width, height, values };
}

test.each(vectors.pictures)("$description", ({ input, expected }) => {
  expect(measure(drawn(input))).toEqual(expected);
});

test.each([[0, 0], [1, 1], [640, 31], [64, 64]])("a flat picture of %i x %i has no sharpness", (width, height) => {
  const flat = { width, height, values: new Uint8Array(width * height).fill(90) };
  expect(measure(flat)).toMatchObject({ sharpness: 0, crisp: 0, white: 0, mean: width === 0 ? 0 : 90 });
});

test("grey is weighted as in ITU-R BT.601: 0.299 red, 0.587 green, 0.114 blue", () => {
  const rgba = Uint8ClampedArray.from([255, 0, 0, 255, 0, 255, 0, 255, 0, 0, 255, 255, 255, 255, 255, 255]);
  expect([...greyOf(rgba, 4, 1).values]).toEqual([76, 150, 29, 255]);
});
