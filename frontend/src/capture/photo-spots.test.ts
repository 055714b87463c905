// capability: photos
import { expect, test } from "vitest";
import { DETAIL, NOTHING, SOFT, type Tiles } from "../workers/tiles";
import { FORGOTTEN_MS, Spots } from "./photo-spots";

const COLUMNS = 20;
const ROWS = 15;
/** A frame with detail everywhere but in these tiles. */
function frame(soft: readonly number[], other: number = SOFT): Tiles {
  const shows = new Uint8Array(COLUMNS * ROWS).fill(DETAIL);
  for (const tile of soft) shows[tile] = other;
  return { columns: COLUMNS, shows };
}
const DROP = [105, 106, 125, 126];
function after(spots: Spots, frames: number, each: Tiles, from = 0): boolean {
  for (let n = 0; n < frames; n += 1) spots.note(each, from + n * 200);
  return spots.found;
}

test("a spot that stays soft is found after some frames, and no more once detail was seen in it again", () => {
  const spots = new Spots();
  expect(after(spots, 7, frame(DROP))).toBe(false);
  expect(after(spots, 1, frame(DROP), 1_400)).toBe(true);
  expect(after(spots, 40, frame(DROP), 1_600)).toBe(true);
  expect(after(spots, 20, frame([]), 9_600)).toBe(false);
});

test.each([
  ["one tile alone", [105]],
  ["tiles that touch at a corner only", [105, 126]],
  ["half of the picture", Array.from({ length: 150 }, (_, tile) => tile)],
  ["most of the picture", Array.from({ length: 300 }, (_, tile) => tile).filter((tile) => tile % 3 > 0)],
])("%s is no spot", (_, soft) => {
  expect(after(new Spots(), 30, frame(soft))).toBe(false);
});

test("where there is nothing to tell by there is no spot: the dark end of a channel", () => {
  expect(after(new Spots(), 30, frame(DROP, NOTHING))).toBe(false);
  const lumen = Array.from({ length: 300 }, (_, tile) => tile).filter((tile) => tile >= 60);
  expect(after(new Spots(), 30, frame(lumen, NOTHING))).toBe(false);
});

test("a spot at the rim of the picture is one, and one in two rows' ends is not", () => {
  expect(after(new Spots(), 30, frame([0, 1, 20, 21]))).toBe(true);
  expect(after(new Spots(), 30, frame([39, 40]))).toBe(false);
});

test("a picture of another size, and a camera not looked at for long, begin anew", () => {
  const spots = new Spots();
  expect(after(spots, 30, frame(DROP))).toBe(true);
  expect(after(spots, 1, { columns: 10, shows: new Uint8Array(100).fill(DETAIL) }, 6_000)).toBe(false);
  expect(after(spots, 30, frame(DROP), 7_000)).toBe(true);
  expect(after(spots, 1, frame(DROP), 13_000 + FORGOTTEN_MS)).toBe(false);
});
