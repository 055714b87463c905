// Runs cases through the page's code reader: node codes_twin.mjs CASES.json ANSWERS.json WORK_FOLDER
// A case is {"read": [text, symbology | null, year]}, {"mms": [maker, model, serial]} or {"serials": [a, b]}.
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
  build: { ssr: "src/rules/codes.ts", outDir: workFolder, emptyOutDir: false, minify: false },
});
const { compareSerials, keyOf, mmsKey, readCode } = await import(pathToFileURL(join(workFolder, "codes.js")).href);

function answer(one) {
  if ("read" in one) {
    const code = readCode(...one.read);
    return { code, key: keyOf(code), confirmed: keyOf(code, true) };
  }
  return "mms" in one ? mmsKey(...one.mms) : compareSerials(...one.serials);
}

writeFileSync(answersFile, JSON.stringify(JSON.parse(readFileSync(casesFile, "utf8")).map(answer)));
