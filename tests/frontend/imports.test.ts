import { readdirSync, readFileSync } from "node:fs";
import { dirname, join, relative, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { expect, test } from "vitest";

/** The import lines between the folders of frontend/src: a folder may use itself and what stands beside its name. */
const MAY_USE: Readonly<Record<string, readonly string[]>> = {
  record: ["rules"],
  rules: [],
  cards: ["record", "rules"],
  capture: ["parts", "record", "rules", "workers"],
  workers: ["rules"],
  parts: ["record", "rules"],
  compare: ["parts", "rules", "workers"],
  screens: ["capture", "cards", "compare", "parts", "record", "rules"],
  lead: ["capture", "cards", "compare", "parts", "rules"],
  offline: [],
};

const SRC = fileURLToPath(new URL("../../frontend/src", import.meta.url));
const IMPORT = /(?:\bfrom\s*|\bimport\s*\(?\s*|\bnew URL\(\s*)["'](\.{1,2}\/[^"']+)["']/g;

/** Every source file below `folder`, tests left out: a test may look at anything. */
function sources(folder: string): string[] {
  return readdirSync(folder, { withFileTypes: true }).flatMap((entry) => {
    const path = join(folder, entry.name);
    if (entry.isDirectory()) return sources(path);
    return /\.(ts|svelte|css)$/.test(entry.name) && !/\.test\.ts$/.test(entry.name) ? [path] : [];
  });
}

/** The folder of src a path lies in; "" for the files that join everything. */
function folderOf(path: string): string {
  const [first = "", ...rest] = relative(SRC, path).split("/");
  return rest.length > 0 || first in MAY_USE ? first : "";
}

/** The lines a file crosses without leave, as "from -> to (file)". */
export function crossings(path: string, text: string): string[] {
  const from = folderOf(path);
  if (from === "") return [];
  return [...text.matchAll(IMPORT)]
    .map((match) => resolve(dirname(path), match[1] ?? ""))
    .filter((target) => target.startsWith(SRC))
    .map(folderOf)
    .filter((to) => to !== from && !(MAY_USE[from] ?? []).includes(to))
    .map((to) => `${from} -> ${to || "src"} (${relative(SRC, path)})`);
}

test("no folder of frontend/src imports across its lines", () => {
  const found = sources(SRC).flatMap((path) => crossings(path, readFileSync(path, "utf8")));
  expect(found, "move the code, or hand the value in from app.svelte or main.ts").toEqual([]);
});

test("every folder of frontend/src has its line in the list", () => {
  const folders = readdirSync(SRC, { withFileTypes: true }).filter((entry) => entry.isDirectory());
  expect(folders.map((entry) => entry.name).filter((name) => !(name in MAY_USE))).toEqual([]);
});

test("a folder named alone is that folder's first file", () => {
  expect(crossings(join(SRC, "rules", "x.ts"), 'import { append } from "../record";')).toEqual(["rules -> record (rules/x.ts)"]);
});

test("the reader of import lines sees static, lazy and worker imports", () => {
  const text =
    'import a from "../lead"; const b = import("../screens/b"); new URL("../offline/c.ts", import.meta.url); import "../app.svelte";';
  expect(crossings(join(SRC, "rules", "x.ts"), text)).toEqual([
    "rules -> lead (rules/x.ts)",
    "rules -> screens (rules/x.ts)",
    "rules -> offline (rules/x.ts)",
    "rules -> src (rules/x.ts)",
  ]);
});
