// capability: breadth
import { expect, test } from "vitest";
import type { ScopeWhole } from "./answers";
import { bodyOf, fieldsOf, innerUm, lengthMm, waitSizes } from "./sizes";

/** Sizes are invented; 3.7 mm = 11.1 Fr is ISO 8600-4 arithmetic. */
const scope: ScopeWhole = {
  key: "udi:51022222233336/1", on_record: "described", kind: "colonoscope", serial: "1", di: "51022222233336", maker: "Alder", model: "CX 180", tag: "C-1",
  codes: ["C-1", "+A1"], none_here: [], tube_mm: 1680, tube_um: 12_800, serial_where: null, instructions: null, version: "a",
  channels: [{ channel: "ch_instrument", inner_um: 3700, length_mm: 1820 }],
};
const channels = ["ch_instrument", "ch_jet"];

test("what is on record is shown and, unchanged, written as it was", () => {
  const fields = fieldsOf(scope, channels);
  expect(fields.channels[0]).toEqual({ channel: "ch_instrument", inner: "3.7", length: "1820", reach: "" });
  const body = bodyOf(scope, fields);
  expect(body).toMatchObject({ tag: "C-1", codes: ["+A1"], tube_mm: 1680, tube_um: 12_800, channels: scope.channels, none_here: [], di: "51022222233336" });
  expect("instructions" in body || "serial_where" in body).toBe(false);
});

test("sizes are micrometres and millimetres, with comma or point; what is none is told apart from nothing typed", () => {
  expect(["3.7", "3,7", " 2.8 ", "", "0.1", "11", "3.7 mm", "1e3", "-2"].map(innerUm)).toEqual([3700, 3700, 2800, undefined, null, null, null, null, null]);
  expect(["1820", "", "99", "6001", "1.8"].map(lengthMm)).toEqual([1820, undefined, null, null, null]);
});

test("a size asks for its source, and one that is none keeps the rest waiting", () => {
  const fields = fieldsOf({ ...scope, channels: [], tube_mm: null, tube_um: null }, channels);
  expect(waitSizes(fields)).toBeUndefined();
  const wrong = [{ tube: "1680" }, { tubeOuter: "12.8" }, { tubeOuter: "128", title: "x" }, { noneHere: ["ch_jet"] }, { tube: "long", title: "x" }, { channels: [{ channel: "ch_jet", inner: "wide", length: "", reach: "" as const }], title: "x" }];
  expect(wrong.map((more) => waitSizes({ ...fields, ...more }))).not.toContain(undefined);
  expect(waitSizes({ ...fields, tube: "1680", title: "Instructions" })).toBeUndefined();
});

test("a day is written as ISO 8601 has it, and is one of the calendar", () => {
  const fields = { ...fieldsOf({ ...scope, channels: [], tube_mm: null, tube_um: null }, channels), title: "I" };
  const taken = ["", "2024-05-01", " 2024-02-29 ", "2023-02-29", "2024-13-01", "05/01/2024", "2024"].filter((dated) => waitSizes({ ...fields, dated }) === undefined);
  expect(taken).toEqual(["", "2024-05-01", " 2024-02-29 "]);
});

test("a channel the scope has none of keeps no sizes", () => {
  const fields = { ...fieldsOf(scope, channels), noneHere: ["ch_instrument"], title: "I", edition: "4", dated: "2024-05-01" };
  expect(bodyOf(scope, fields)).toMatchObject({ channels: [], none_here: ["ch_instrument"], instructions: { title: "I", edition: "4", dated: "2024-05-01" } });
  const reached = { ...fields, noneHere: [], channels: [{ channel: "ch_jet", inner: "", length: "", reach: "none" as const }] };
  expect(bodyOf(scope, reached)).toMatchObject({ channels: [{ channel: "ch_jet", reach: "none" }] });
});
