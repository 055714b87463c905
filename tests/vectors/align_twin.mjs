// Lays pairs of squares over each other by the tablet's own code: node align_twin.mjs PAIRS_FOLDER ANSWERS.json WORK_FOLDER
// pairs.bin holds, for each picture of each pair, 256 x 256 floats and as many bytes (1 = of the picture).
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { built } from "./built.mjs";

const [, , pairsFolder, answersFile, workFolder] = process.argv;
const [{ align, changes, SIDE }, { complexOf, transform }] = await built(["src/workers/align.ts", "src/workers/align-fft.ts"], workFolder);

const file = readFileSync(join(pairsFolder, "pairs.bin"));
const bytes = file.buffer.slice(file.byteOffset, file.byteOffset + file.byteLength);
const pixels = SIDE * SIDE;
let at = 0;
const square = () => {
  const values = new Float32Array(bytes.slice(at, at + 4 * pixels));
  const inside = new Uint8Array(bytes.slice(at + 4 * pixels, at + 5 * pixels));
  at += 5 * pixels;
  return { side: SIDE, values, inside };
};
const pairs = [];
let spectrum;
while (at < bytes.byteLength) {
  const [then, now] = [square(), square()];
  const aligned = align(then, now);
  pairs.push({ ...aligned, cells: "laying" in aligned ? [...changes(then, now, aligned.laying)] : [] });
  if (spectrum === undefined) {
    spectrum = complexOf(SIDE, then.values);
    transform(spectrum);
  }
}
const there = { side: SIDE, re: spectrum.re.slice(), im: spectrum.im.slice() };
transform(there, true);
writeFileSync(answersFile, JSON.stringify({ pairs, re: [...spectrum.re], im: [...spectrum.im], back: [...there.re] }));
