// Runs cases through the tablet's judgement of a serial photo: node serial_twin.mjs CASES.json ANSWERS.json WORK_FOLDER
// A case is {"codes": [code as read], "record": {"serial", "di"?}}.
import { readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

const [, , casesFile, answersFile, workFolder] = process.argv;
const frontend = fileURLToPath(new URL("../../frontend/", import.meta.url));
const { build } = await import(pathToFileURL(createRequire(join(frontend, "package.json")).resolve("vite")).href);

await build({
  root: frontend,
  configFile: false,
  logLevel: "error",
  build: { ssr: "src/rules/serial.ts", outDir: workFolder, emptyOutDir: false, minify: false },
});
const { answerOfCodes } = await import(pathToFileURL(join(workFolder, "serial.js")).href);

const answer = ({ codes, record }) => {
  const found = answerOfCodes(codes, record);
  return [found.agrees, found.agrees === "unknown" ? "" : found.code];
};
writeFileSync(answersFile, JSON.stringify(JSON.parse(readFileSync(casesFile, "utf8")).map(answer)));
