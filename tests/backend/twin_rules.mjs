// Runs cases through the tablet's rules: node twin_rules.mjs CASES.json ANSWERS.json WORK_FOLDER
// The file holds {pins: {sha256: catalogue}, policy, cases: [{lines: [text], facts: [fact], fields: {...}}]}.
import { createHash } from "node:crypto";
import { readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

const [, , casesFile, answersFile, workFolder] = process.argv;
const frontend = fileURLToPath(new URL("../../frontend/", import.meta.url));
const { build } = await import(pathToFileURL(createRequire(join(frontend, "package.json")).resolve("vite")).href);

const modules = { chain: "rules/chain.ts", state: "rules/chain-state.ts", policy: "rules/policy.ts", line: "record/line.ts", hash: "record/hash.ts" };
await build({
  root: frontend,
  configFile: false,
  logLevel: "error",
  ssr: { noExternal: true },
  build: {
    ssr: true,
    outDir: workFolder,
    emptyOutDir: false,
    minify: false,
    rolldownOptions: { input: Object.fromEntries(Object.entries(modules).map(([name, path]) => [name, join(frontend, "src", path)])) },
  },
});
const built = async (name) => import(pathToFileURL(join(workFolder, `${name}.js`)).href);
const [{ advance, judge }, { NOTHING, markOf }, { suggest }, { readLine, writeLine }, { hashLine }] = await Promise.all(
  Object.keys(modules).map(built),
);

const { pins, policy, cases } = JSON.parse(readFileSync(casesFile, "utf8"));
const bytes = (text) => new TextEncoder().encode(text);

/** What counts, as one text both languages write alike: keys sorted, no blanks. */
function told(state) {
  const marks = Object.keys(state.marks).sort().map((part) => [part, markOf(state, part), state.marks[part]]);
  const sorted = (lists) => Object.keys(lists).sort().map((key) => [key, lists[key]]);
  return JSON.stringify([
    state.live.map((live) => [live.hash, live.kind]), state.begun?.hash ?? null, sorted(state.facts), marks, sorted(state.photos),
  ]);
}

function answer({ lines, facts, fields }) {
  let state = NOTHING;
  const verdicts = lines.map((text) => {
    const line = bytes(text);
    const entry = readLine(line);
    const hash = hashLine(line);
    const verdict = judge(state, entry, hash, (sha256) => pins[sha256]);
    if (verdict.verdict === "counted") state = advance(state, entry, hash);
    return [hash, verdict.verdict, verdict.reason ?? null];
  });
  const digest = createHash("sha256").update(told(state)).digest("hex");
  return { verdicts, digest, suggestion: suggest(policy, facts), written: hashLine(writeLine(fields)) };
}

writeFileSync(answersFile, JSON.stringify(cases.map(answer)));
