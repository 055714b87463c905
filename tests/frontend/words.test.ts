import { readdirSync, readFileSync } from "node:fs";
import { dirname, join, relative, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { expect, test } from "vitest";
import en from "../../shared/words/en.json";
import { STATION_KINDS } from "../../frontend/src/record/kinds";
import { keysAskedFor, loadedWith, splitWords, staticImports } from "../../frontend/build/words";

/** The words in two: what the first screen carries and what comes with the later screens. No word may be lost between. */

const SRC = fileURLToPath(new URL("../../frontend/src", import.meta.url));
const KEYS = Object.keys(en);
const FIRST = loadedWith(join(SRC, "main.ts"));
const LATER = join(SRC, "parts", "words-later.ts");
const textOf = (path: string): string => readFileSync(path, "utf8");

function sources(folder: string): string[] {
  return readdirSync(folder, { withFileTypes: true }).flatMap((entry) => {
    const path = join(folder, entry.name);
    if (entry.isDirectory()) return sources(path);
    return /\.(ts|svelte)$/.test(entry.name) && !/\.(test|d)\.ts$/.test(entry.name) ? [path] : [];
  });
}

/** The sources of ours that `path` loads by `import(...)`. */
function dynamicImports(path: string): string[] {
  return [...textOf(path).matchAll(/\bimport\(\s*["'](\.[^"']+)["']\s*\)/g)].map((match) => {
    const found = resolve(dirname(path), match[1] ?? "");
    return /\.(ts|svelte)$/.test(found) ? found : `${found}.ts`;
  });
}

test("what is loaded at once: imports and re-exports, no types, nothing behind import(...)", () => {
  const text = [
    'import "./a.css"; import B from "./b"; import { c, type C } from "./c";', "import {\n  d,\n} from './d';", 'export { e } from "./e"; export * from "./f";',
    'import type { G } from "./g"; export type { H } from "./h"; const i = () => import("./i"); import j from "package";',
  ].join("\n");
  expect(staticImports(text)).toEqual(["./a.css", "./b", "./c", "./d", "./e", "./f"]);
});

test("a key is found quoted, in a choice, in a table, in a template, and behind named", () => {
  const keys = ["a.b", "a.c", "d.e", "f.g.so", "f.h.so", "f.h.next", "kind.x", "kind.y.z", "never.asked"];
  const text = 'say(x ? "a.b" : `a.c`); const T = { y: \'d.e\' }; say(`f.${z}.so` as Key); named("kind", id);';
  expect([...keysAskedFor(text, keys)]).toEqual(["a.b", "a.c", "d.e", "f.g.so", "f.h.so", "kind.x", "kind.y.z"]);
});

test("a key that begins with a value is refused: its words could not be found", () => {
  expect(() => keysAskedFor("say(`${what}.so` as Key)", KEYS)).toThrow(/begins with a value/);
});

test("every kind of entry that a tablet writes has its name", () => {
  expect(STATION_KINDS.filter((kind) => !(`entry.${kind}` in en))).toEqual([]);
});

test("every word is in one half, and in one only", () => {
  const { first, later } = splitWords(en, FIRST.map(textOf));
  expect({ ...first, ...later }).toEqual(en);
  expect(Object.keys(first).filter((key) => key in later)).toEqual([]);
  expect(Object.keys(later).length, "a first half that is the whole splits nothing").toBeGreaterThan(KEYS.length / 2);
});

test("the first screen is without the later words, and has those it builds from data", () => {
  expect(FIRST).not.toContain(LATER);
  const { first } = splitWords(en, FIRST.map(textOf));
  const built = KEYS.filter((key) => /^(kind|point|side)\./.test(key));
  expect(built.length).toBeGreaterThan(15);
  expect(built.filter((key) => !(key in first))).toEqual([]);
});

test("whatever is loaded later and says more than the first screen loads the later words before it runs", () => {
  const first = splitWords(en, FIRST.map(textOf)).first;
  const targets = sources(SRC).filter((path) => !/\/(workers|offline)\//.test(path)).flatMap(dynamicImports);
  expect(targets.length).toBeGreaterThan(9);
  const without = [...new Set(targets)].filter((target) => {
    const loaded = loadedWith(target);
    const asked = loaded.flatMap((path) => [...keysAskedFor(textOf(path), KEYS)]);
    return !loaded.includes(LATER) && asked.some((key) => !(key in first));
  });
  expect(without.map((path) => relative(SRC, path)), 'write import "../parts/words-later" into its script').toEqual([]);
});

test("only parts/words.ts and parts/words-later.ts import the words themselves", () => {
  const importers = sources(SRC).filter((path) => /^\s*import\s+(?!type\b).*\/words\/en\.json"/m.test(textOf(path)));
  expect(importers.map((path) => relative(SRC, path)).sort()).toEqual(["parts/words-later.ts", "parts/words.ts"]);
});
