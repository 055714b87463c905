/** That the first screen draws nothing whose shape has not come with it. */
// capability: sink
import { readFileSync } from "node:fs";
import { relative, resolve } from "node:path";
import { expect, test } from "vitest";
import { loadedWith } from "../../build/words";
import { drawing, isFirstIcon } from "./icons";
import "./icons-later";

const SRC = resolve(import.meta.dirname, "..");
const NAMED = /\b(?:icon|name)="([a-z_]+)"|\bicon: "([a-z_]+)"/g;
/** What hands on the shape it was given. */
const GIVEN = /icon=\{(?!icon\b)[^}]*\}/g;

test("every shape that the first files name comes with the first screen", () => {
  const first = loadedWith(resolve(SRC, "main.ts")).filter((path) => path.endsWith(".svelte"));
  expect(first.length).toBeGreaterThan(10);
  const told = first.flatMap((path) => {
    const text = readFileSync(path, "utf8");
    const named = [...text.matchAll(NAMED)].map((match) => match[1] ?? match[2] ?? "").filter((name) => !isFirstIcon(name));
    return [...named, ...(text.match(GIVEN) ?? [])].map((name) => `${relative(SRC, path)}: ${name}`);
  });
  expect(told, "move its drawing from icons-later.ts to icons.ts, and write its name out").toEqual([]);
});

test("with the later file every shape has strokes", () => {
  for (const name of ["brand", "finding", "goes_hold", "help"] as const) expect(drawing(name).length).toBeGreaterThan(0);
});
