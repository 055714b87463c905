// capability: photos
import { expect, test } from "vitest";
import type { SharpWatch } from "../capture/photo-sharp";
import { memoryOf } from "../capture/photo-memory";
import { PhotoRefused, type Shot } from "../capture/photo";
import { inOrder, MOST_FILES, pilesOf, takeIn } from "./from-card";
import { Elsewhere, markOf } from "./photo-mark";

const file = (name: string, lastModified = 0): File => ({ name, lastModified }) as File;
const dark = { share: () => null, against: () => ["too_dark", "glare"] } as unknown as SharpWatch;
const shot = (sha256: string): Shot => ({ sha256, took: "file" }) as Shot;

test("the order is that of the names, their numbers counted, then of the time", () => {
  const given = [file("IMG10.JPG"), file("IMG9.JPG"), file("img1.jpg", 5), file("IMG1.JPG", 3)];
  expect(inOrder(given).map(({ name, lastModified }) => [name, lastModified])).toEqual([["img1.jpg", 5], ["IMG1.JPG", 3], ["IMG9.JPG", 0], ["IMG10.JPG", 0]]);
});

test("each file is told: taken in, kept here already, twice among them, or why it is no photo", async () => {
  const told: number[] = [];
  const done = await takeIn(
    [file("1.jpg"), file("2.jpg"), file("3.jpg"), file("4.jpg")], new Set(["kept"]), (sofar) => told.push(sofar.length),
    ({ name }) => {
      if (name === "3.jpg") return Promise.reject(new PhotoRefused("file_empty"));
      return Promise.resolve(shot(name === "2.jpg" ? "kept" : "same"));
    },
  );
  expect(done.map(({ name, shot: took, double, why }) => [name, took?.sha256, double, why])).toEqual([
    ["1.jpg", "same", undefined, undefined], ["2.jpg", undefined, true, undefined],
    ["3.jpg", undefined, undefined, "file_empty"], ["4.jpg", undefined, true, undefined],
  ]);
  expect(told).toEqual([1, 2, 3, 4]);
});

test("what one entry cannot name comes in the next pile: none is left out, and the order goes on", () => {
  const given = Array.from({ length: 2 * MOST_FILES + 5 }, (_, n) => file(`IMG${n + 1}.JPG`)).toReversed();
  const piles = pilesOf(given);
  expect(piles.map(({ length }) => length)).toEqual([MOST_FILES, MOST_FILES, 5]);
  expect(piles.flat().map(({ name }) => name)).toEqual(given.toReversed().map(({ name }) => name));
  expect(pilesOf([])).toEqual([]);
});

test("the names of a whole pile fit into one line, with the longest of everything", () => {
  const photo = {
    sha256: "f".repeat(64), bytes: 12_000_000, type: "image/jpeg", width: 65_535, height: 65_535, shows: "finding",
    taken: markOf({ ...shot("f"), took: "file" }, dark, 0, { at: new Date(0xe8d4a51000), tool: "\u6f22".repeat(300) }).taken,
  };
  expect(photo.taken.told).toEqual(["too_dark", "glare"]);
  expect(photo.taken.tool).toHaveLength(60);
  expect(new TextEncoder().encode(JSON.stringify(Array<unknown>(MOST_FILES).fill(photo))).length).toBeLessThan(60 * 1024);
});

test("a clock that was never set says nothing of when", () => {
  expect(markOf(shot("f"), dark, 0, { at: new Date(0), tool: "" }).taken).toEqual({ way: "file", told: ["too_dark", "glare"] });
});

const picture = (crisp: number, over: object = {}): Shot => ({ took: "sheet", crisp, sharpness: 400, mean: 120, white: 0, glare: 0, low: 20, high: 220, ...over }) as unknown as Shot;

test("a picture from elsewhere gets the same checks: of the light, and of sharpness from the first one on", () => {
  const kept = new Map<string, string>();
  let now = 0;
  const store = { getItem: (key: string) => kept.get(key) ?? null, setItem: (key: string, value: string) => void kept.set(key, value) };
  const sheet = new Elsewhere("sheet", "B-3", memoryOf("sheet", "B-3", store, () => (now += 1_000)));
  const said = (crisp: number, over: object = {}) => sheet.mark(picture(crisp, over), Date.UTC(2026, 1, 1)).taken;
  expect(said(399).told).toEqual(["not_sharp"]);
  expect(said(600)).toMatchObject({ way: "sheet", told: [], tool: "B-3" });
  expect("sharp_permille" in said(600), "nothing is known of this camera yet").toBe(false);
  expect(said(600, { glare: 30 }).told).toEqual(["glare"]);
  expect(said(0).told, "nothing in it to tell by").toEqual([]);
  // Twenty pictures later it is held against what came that way before: here a tube that never shows more.
  for (let n = 0; n < 40; n += 1) said(330);
  for (let n = 0; n < 80; n += 1) said(330);
  expect(said(325)).toMatchObject({ told: [], sharp_permille: 938 });
  expect(said(280).told).toEqual(["not_sharp"]);
});
