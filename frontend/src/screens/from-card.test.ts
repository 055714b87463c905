// capability: photos
import { expect, test } from "vitest";
import { PhotoRefused, type Shot } from "../capture/photo";
import { inOrder, MOST_FILES, takeIn } from "./from-card";

const file = (name: string, lastModified = 0): File => ({ name, lastModified }) as File;
const shot = (sha256: string): Shot => ({ sha256, took: "file" }) as Shot;

test("the order is that of the names, their numbers counted, then of the time", () => {
  const given = [file("IMG10.JPG"), file("IMG9.JPG"), file("img1.jpg", 5), file("IMG1.JPG", 3)];
  expect(inOrder(given).map(({ name, lastModified }) => [name, lastModified])).toEqual([["img1.jpg", 5], ["IMG1.JPG", 3], ["IMG9.JPG", 0], ["IMG10.JPG", 0]]);
});

test("each file is told: taken in, kept here already, twice among them, or why it is no photo", async () => {
  const told: number[] = [];
  const done = await takeIn(
    [file("4.jpg"), file("1.jpg"), file("2.jpg"), file("3.jpg")], new Set(["kept"]), (sofar) => told.push(sofar.length),
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

test("no more are taken in than one entry can name", async () => {
  const many = Array.from({ length: MOST_FILES + 5 }, (_, n) => file(`${n}.jpg`));
  expect(await takeIn(many, new Set(), () => undefined, ({ name }) => Promise.resolve(shot(name)))).toHaveLength(MOST_FILES);
});
