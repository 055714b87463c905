// capability: shift
import { expect, test } from "vitest";
import type { Scope, Shift } from "./answers";
import type { MachineLog } from "./form";
import { differs, scopesOf, whyWords } from "./shift-log";

const scope = (tag: string): Scope => ({ key: tag, kind: "colonoscope", serial: tag, tag }) as unknown as Scope;
const log = (...tags: readonly string[]): MachineLog =>
  ({ sha256: tags.join(), scopes: Object.fromEntries(tags.map((tag) => [tag, scope(tag)])) }) as unknown as MachineLog;
const page = (...looked: readonly string[]): Shift =>
  ({ inspections: looked.map((key) => ({ scope: key })), scopes: Object.fromEntries(looked.map((tag) => [tag, scope(tag)])) }) as unknown as Shift;

test("several logs count together, and the difference is named both ways", () => {
  expect(differs([log("a", "b"), log("b", "c")], page("b", "d"))).toEqual({ notLooked: ["a", "c"], notLogged: ["d"] });
  expect(differs([log("a")], page("a", "a"))).toEqual({ notLooked: [], notLogged: [] });
  expect(Object.keys(scopesOf([log("a"), log("c")], page("d"))).toSorted()).toEqual(["a", "c", "d"]);
});

test("every reason why a row is not placed has words, and a row that is placed has none", () => {
  const row = { row: 3, at_ms: null, scope: null, machine: "", cycle: "", result: "", found: "soon" };
  const whys = ["time_missing", "time_not_read", "scope_missing", "scope_unknown", "scope_twice", "scope_differs", "code_not_read"] as const;
  expect(new Set(whys.map((why) => whyWords({ ...row, why }))).size).toBe(whys.length);
  expect(whyWords({ ...row, why: null })).toBe("");
});
