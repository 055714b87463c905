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
  expect([...greyOf(rgba, 4, 1, undefined, "blue").values]).toEqual([29, 150, 76, 255]);
});

/** The edges' energy by its definition, pixel for pixel, of the sums over squares of `edge`. */
function energy({ width, height, values }: Grey, edge: number): number {
  const [wide, high] = [Math.floor(width / edge), Math.floor(height / edge)];
  const sums = new Float64Array(wide * high);
  for (let y = 0; y < high * edge; y += 1) {
    for (let x = 0; x < wide * edge; x += 1) sums[Math.floor(y / edge) * wide + Math.floor(x / edge)]! += values[y * width + x]!;
  }
  let total = 0;
  for (let y = 0; y < high - 2; y += 1) {
    for (let x = 0, at = y * wide; x < wide - 2; x += 1, at += 1) {
      total += (sums[at + 2]! - sums[at]!) * (sums[at + wide + 2]! - sums[at + wide]!) + (sums[at + 2 * wide]! - sums[at]!) * (sums[at + 2 * wide + 1]! - sums[at + 1]!);
    }
  }
  return total;
}

function expectTheDefinition(grey: Grey): void {
  const { sharpness, crisp } = measure(grey);
  expect(sharpness).toBe(Math.floor((16_000 * energy(grey, 1)) / energy(grey, 4) + 0.5));
  expect(crisp).toBe(Math.floor((4_000 * energy(grey, 1)) / energy(grey, 2) + 0.5));
}

test.each([["squares", 13], ["squares", 40], ["rows", 16]])("no sum is lost where 640 x 480 are black or white in %s of %i", (what, block) => {
  const grey = drawn({ width: 640, height: 480, seed: 7, block, over: 1, gain: 16, add: 0 });
  grey.values.forEach((value, at) => (grey.values[at] = (what === "rows" ? Math.floor(at / 640 / block) % 2 === 0 : value < 128) ? 0 : 255));
  expectTheDefinition(grey);
});

test("every width and height gives what the definition gives, whatever is left over at the right and below", () => {
  for (let width = 56; width < 64; width += 1) {
    for (let height = 40; height < 48; height += 1) expectTheDefinition(drawn({ width, height, seed: width, block: 5, over: 3, gain: 16, add: 0 }));
  }
});

test("the greys of the next frame lie where those of the last one lay, and a frame of another size has its own", () => {
  const rgba = Uint8ClampedArray.from([255, 0, 0, 255, 0, 255, 0, 255]);
  const first = greyOf(rgba, 2, 1);
  expect(greyOf(rgba, 1, 2, first.values).values).toBe(first.values);
  expect([...greyOf(rgba, 1, 1, first.values).values]).toEqual([76]);
});
