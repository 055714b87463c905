// What the tablet's own code tells of frames: node lens_twin.mjs CASES.json ANSWERS.json WORK_FOLDER
// A case: {"usual": [Measured] shown before, one a second, "frame": Measured}. Answer: what is said against the frame,
// after it was seen for as long as a fogged lens takes to be told.
import { readFileSync, writeFileSync } from "node:fs";
import { built } from "./built.mjs";

const [, , casesFile, answersFile, workFolder] = process.argv;
const [{ SharpWatch, FOG }, { memoryOf }] = await built(["src/capture/photo-sharp.ts", "src/capture/photo-memory.ts"], workFolder);

const told = JSON.parse(readFileSync(casesFile, "utf8")).map(({ usual, frame }) => {
  const kept = new Map();
  let at = 0;
  const memory = memoryOf("m", "", { getItem: (key) => kept.get(key) ?? null, setItem: (key, value) => kept.set(key, value) }, () => at);
  const watch = new SharpWatch(memory);
  for (const seen of usual) {
    watch.note({ ...seen, moved: 0 }, at);
    at += 1_000;
  }
  // The lens fogs within a second of that: the memory takes one more value, as it would.
  for (const end = at + FOG.ms; at <= end; at += 250) watch.note({ ...frame, moved: 0 }, at);
  return watch.against({ ...frame, moved: 0 }, at);
});
writeFileSync(answersFile, JSON.stringify(told));
