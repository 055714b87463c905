import { expect, test } from "vitest";

/** Every source of record/ and cards/, as text. */
const SOURCES = import.meta.glob<string>(["./*.ts", "../cards/*.ts", "!./*.test.ts", "!../cards/*.test.ts"], {
  query: "?raw", import: "default", eager: true,
});

test("no write passes by `write`, which is strict", () => {
  expect(Object.keys(SOURCES).length).toBeGreaterThan(20);
  const opened = Object.entries(SOURCES).filter(([, text]) => text.includes(".transaction(")).map(([path]) => path);
  expect(opened, "use read() and write() of record/store.ts").toEqual(["./store.ts"]);
  const lines = (SOURCES["./store.ts"] ?? "").split("\n").filter((line) => line.includes(".transaction("));
  expect(lines.filter((line) => line.includes("readwrite"))).toHaveLength(1);
  for (const line of lines) expect(line).toMatch(/"readwrite", \{ durability: "strict" \}|"readonly"/);
});

test("no short cut of the library opens a write of its own", () => {
  const short = /\bdb\.(put|add|delete|clear)\(/;
  expect(Object.entries(SOURCES).filter(([, text]) => short.test(text)).map(([path]) => path)).toEqual([]);
});

test("nothing but the store is awaited while a transaction is open", () => {
  const bad = /crypto\.subtle|fetch\(|setTimeout|\bask\(/;
  const bodies = Object.entries(SOURCES).flatMap(([path, text]) =>
    [...text.matchAll(/await write\([^\n]*=> \{\n([\s\S]*?)\n {2}\}\);/g)].map((match) => [path, match[1] ?? ""] as const),
  );
  expect(bodies.length).toBeGreaterThan(5);
  expect(bodies.filter(([, body]) => bad.test(body)).map(([path]) => path)).toEqual([]);
});
