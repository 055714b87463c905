// Runs cases through the tablet's judgement of a serial photo: node serial_twin.mjs CASES.json ANSWERS.json WORK_FOLDER
// A case is {"codes": [code as read], "record": {"serial", "di"?}}.
import { readFileSync, writeFileSync } from "node:fs";
import { built } from "./built.mjs";

const [, , casesFile, answersFile, workFolder] = process.argv;
const [{ answerOfCodes }] = await built(["src/rules/serial.ts"], workFolder);

const answer = ({ codes, record }) => {
  const found = answerOfCodes(codes, record);
  return [found.agrees, found.agrees === "unknown" ? "" : found.code];
};
writeFileSync(answersFile, JSON.stringify(JSON.parse(readFileSync(casesFile, "utf8")).map(answer)));
