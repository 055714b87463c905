// capability: breadth
import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { FIRSTS, GOES } from "../rules/policy";
import { against, withAnswer, withDays, withSecond } from "./policy-table";

const text = readFileSync(new URL("../../../shared/policy/policy.json", import.meta.url), "utf8");

test("an answer is stricter, laxer or the same, and laxer in one half is laxer", () => {
  expect(against({ first: "clean" }, { first: "clean", goes: "on" })).toBe("same");
  expect(against({ first: "clean" }, { first: "whole" })).toBe("stricter");
  expect(against({ goes: "hold" }, { goes: "on", first: "whole" })).toBe("laxer");
  for (const first of FIRSTS) for (const goes of GOES) expect(against({ first, goes }, { first, goes })).toBe("same");
});

test("one row is answered otherwise and nothing else changes", () => {
  const before = JSON.parse(text) as { readonly rows: readonly { readonly id: string }[] };
  const after = JSON.parse(withAnswer(text, "2026-11-25 15:58", "soil_again", { first: "whole", goes: "hold" })) as typeof before & { readonly id: string };
  expect(after.id).toBe("2026-11-25 15:58");
  expect(after.rows.map(({ id }) => id)).toEqual(before.rows.map(({ id }) => id));
  const changed = after.rows.filter((row, at) => JSON.stringify(row) !== JSON.stringify(before.rows[at]));
  expect(changed).toEqual([{ ...before.rows.find(({ id }) => id === "soil_again"), first: "whole", goes: "hold" }]);
});

test("second opinions are set and nothing else changes; an older policy gets them with a source", () => {
  const before = JSON.parse(text) as { readonly second_opinion: { readonly source: string } };
  const after = JSON.parse(withSecond(text, "2026-11-25 15:58", { on: true, share_percent: 5 })) as typeof before;
  expect(after).toEqual({ ...before, id: "2026-11-25 15:58", second_opinion: { on: true, share_percent: 5, source: before.second_opinion.source } });
  const { second_opinion: _, ...older } = before;
  expect(JSON.parse(withSecond(JSON.stringify(older), "now", { on: false, share_percent: 0 }))).toMatchObject({ second_opinion: { on: false, source: "the facility's own choice" } });
});

test("the days over which cleanings are counted change and nothing else does, also where an older policy named none", () => {
  const before = JSON.parse(text) as Readonly<Record<string, unknown>> & { readonly recleans: { readonly source: string } };
  const after = JSON.parse(withDays(text, "2026-11-25 15:58", 30)) as typeof before;
  expect(after).toEqual({ ...before, id: "2026-11-25 15:58", recleans: { days: 30, source: before.recleans.source } });
  const { recleans: _, ...older } = before;
  expect(JSON.parse(withDays(JSON.stringify(older), "x", 30))).toMatchObject({ recleans: { days: 30 } });
});
