// Runs cases through the page's code reader: node codes_twin.mjs CASES.json ANSWERS.json WORK_FOLDER
// A case is {"read": [text, symbology | null, year]}, {"mms": [maker, model, serial]} or {"serials": [a, b]}.
import { readFileSync, writeFileSync } from "node:fs";
import { built } from "./built.mjs";

const [, , casesFile, answersFile, workFolder] = process.argv;
const [{ compareSerials, keyOf, mmsKey, readCode }] = await built(["src/rules/codes.ts"], workFolder);

function answer(one) {
  if ("read" in one) {
    const code = readCode(...one.read);
    return { code, key: keyOf(code), confirmed: keyOf(code, true) };
  }
  return "mms" in one ? mmsKey(...one.mms) : compareSerials(...one.serials);
}

writeFileSync(answersFile, JSON.stringify(JSON.parse(readFileSync(casesFile, "utf8")).map(answer)));
