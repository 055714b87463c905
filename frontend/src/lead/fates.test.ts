// capability: breadth
import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import en from "../../../shared/words/en.json";
import { asksForALook, fateWords, remarkWords, unknownKinds, whatWords } from "./fates";
import { FATES, type Fate } from "./form";

/** The server's closed lists, read from its source: a code without a sentence would show as a code. */
function codesOf(name: "Reason" | "Note"): string[] {
  const source = readFileSync(new URL("../../../backend/loupebook/bulk/fates.py", import.meta.url), "utf8");
  const list = new RegExp(`^${name} = Literal\\[([^\\]]*)\\]`, "m").exec(source)?.[1] ?? "";
  return [...list.matchAll(/"(\w+)"/g)].map((match) => match[1] ?? "");
}

test("every reason and every note of the server has a sentence without holes", () => {
  const codes = [...codesOf("Reason"), ...codesOf("Note")];
  expect(codes.length).toBeGreaterThan(20);
  for (const code of codes) {
    const words = remarkWords({
      code, column: "serial", found: "7", expected: "6", word: "w", nearest: "colonoscope", missing: ["maker"], readings: ["a"], other: "C-1", row: 4,
    });
    expect(words, code).not.toMatch(/^bring\.|[{}]/);
    expect(words.endsWith("."), `${code}: ${words}`).toBe(true);
  }
});

test("every fate has its word and its count", () => {
  for (const fate of FATES) expect(Object.keys(en)).toEqual(expect.arrayContaining([`bring.fate.${fate}`, `bring.count.${fate}`]));
});

test("every column of the server has its name here", () => {
  const source = readFileSync(new URL("../../../backend/loupebook/bulk/columns.py", import.meta.url), "utf8");
  const columns = [...source.matchAll(/^ {4}"(\w+)": \(/gm)].map((match) => match[1] ?? "");
  expect(columns).toContain("serial_where");
  for (const column of columns) expect(Object.keys(en)).toContain(`bring.column.${column}`);
});

test("the sizes of a row are said as they were understood, and words that were taken for something", () => {
  const fate: Fate = {
    row: 2, name: "C-7", fate: "new", sizes: [{ channel: "ch_instrument", inner_um: 3700, length_mm: 1820 }, { channel: "ch_air", reach: "flow" }],
    none_here: ["nozzle", "tube_3"], notes: [{ code: "kind_read", word: "colono", found: "colonoscope" }],
  };
  expect(fateWords(fate)).toEqual([
    "Instrument channel: 3.7 mm wide, 1,820 mm long.", "Air channel: Flow only.", "Has none of: nozzle; insertion tube, 3rd third.", "“colono” is taken for: Colonoscope.",
  ]);
  expect(asksForALook(fate)).toBe(false);
  expect(fateWords({ row: 2, name: "C-7", fate: "changes", changes: [{ field: "inner:ch_jet", before: "", after: "0.8" }, { field: "reach:ch_jet", before: "flow", after: "none" }] })).toEqual([
    "Water-jet channel: inner diameter mm: nothing on record, 0.8 in the file.", "Water-jet channel: what can be done in it: Flow only on record, Neither in the file.",
  ]);
});

test("a row says all that differs, and what it was", () => {
  const fate: Fate = { row: 3, name: "C-14", fate: "changes", changes: [{ field: "kind", before: "gastroscope", after: "colonoscope" }, { field: "tag", before: "", after: "C-14" }] };
  expect(fateWords(fate)).toEqual(["Kind of scope: Gastroscope on record, Colonoscope in the file.", "Facility tag: nothing on record, C-14 in the file."]);
  expect(fateWords({ row: 4, name: "C-14", fate: "duplicate", of: 3 })).toEqual(["The same scope or person as row 3. Only that row is taken."]);
  expect(whatWords({ row: 3, name: "C-14", fate: "new", kind: "colonoscope", serial: "1" }, "scopes")).toBe("Colonoscope · serial number 1");
  expect(whatWords({ row: 3, name: "Rin", fate: "new", kind: "technician lead" }, "people")).toBe("technician, lead");
});

test("what has to be looked at: not what is plainly new or the same", () => {
  const row = { row: 2, name: "" } as const;
  expect(asksForALook({ ...row, fate: "new", notes: [{ code: "gs1_read" }] })).toBe(false);
  expect(asksForALook({ ...row, fate: "new", notes: [{ code: "tag_elsewhere" }] })).toBe(true);
  expect(asksForALook({ ...row, fate: "refused" })).toBe(true);
  expect(asksForALook({ ...row, fate: "same" })).toBe(false);
});

test("a word for a kind nobody knows is asked about once, with all its rows", () => {
  const reason = { code: "kind_unknown", word: "colo", nearest: "colonoscope" };
  const rows: Fate[] = [2, 3].map((row) => ({ row, name: "", fate: "refused", reason }));
  expect(unknownKinds([...rows, { row: 4, name: "", fate: "refused", reason: { code: "kind_missing" } }])).toEqual([{ word: "colo", nearest: "colonoscope", rows: 2 }]);
});
