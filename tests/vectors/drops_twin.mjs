// What the tablet's own code tells of a picture that moves: node drops_twin.mjs FRAMES.bin ANSWERS.json WORK_FOLDER
// FRAMES.bin: per case 3 words of 32 bits (frames, width, height), then the greys of each frame, row by row.
// Answer: per case, whether a spot that stays soft is told after its last frame.
import { readFileSync, writeFileSync } from "node:fs";
import { built } from "./built.mjs";

const [, , framesFile, answersFile, workFolder] = process.argv;
const [{ SharpWatch }, { frameOf, movedBetween }] = await built(["src/capture/photo-sharp.ts", "src/workers/look.ts"], workFolder);

const bytes = readFileSync(framesFile);
const told = [];
for (let at = 0; at < bytes.length; ) {
  const [frames, width, height] = [0, 4, 8].map((word) => bytes.readUInt32LE(at + word));
  at += 12;
  const watch = new SharpWatch();
  let before;
  let measured;
  for (let frame = 0; frame < frames; frame += 1, at += width * height) {
    const values = new Uint8Array(bytes.buffer, bytes.byteOffset + at, width * height);
    const seen = frameOf({ width, height, values });
    measured = { ...seen.measured, moved: movedBetween(before, seen.cells), tiles: seen.tiles };
    before = seen.cells;
    watch.note(measured, frame * 200);
  }
  told.push(watch.against(measured, frames * 200).includes("soft_spot"));
}
writeFileSync(answersFile, JSON.stringify(told));
