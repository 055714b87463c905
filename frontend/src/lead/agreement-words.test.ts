// capability: repair
import { expect, test } from "vitest";
import { type Agreement, differSaid, kappaSaid, rawSaid, saidOf, signed } from "./agreement-words";
import "../parts/words-later";

const of = (more: Partial<Agreement>): Agreement => ({ table: [], n: 100, agreed: 85, share: 0.85, low: 0.7672, high: 0.9069, kappa: 0.3182, why: null, ...more });

test("raw agreement stands with its count and its interval, kappa beside it", () => {
  expect(rawSaid(of({}))).toBe("The same in 85 of 100: 85 % (95 % interval 77 to 91 %).");
  expect(kappaSaid(of({}), 20)).toContain("0.32");
});

test("where there is no number, no number is said, but why", () => {
  expect(rawSaid(of({ n: 0, agreed: 0, share: null, low: null, high: null }))).not.toMatch(/\d/);
  expect(kappaSaid(of({ kappa: null, why: "undefined" }), 20)).not.toMatch(/\d/);
  expect(kappaSaid(of({ kappa: null, why: "too_few" }), 20)).toBe("No kappa: fewer than 20 pairs say too little.");
});

test("less than chance has a minus sign, nothing has none", () => {
  expect([signed(-0.125), signed(-0.001), signed(0), signed(1)]).toEqual(["−0.13", "0.00", "0.00", "1.00"]);
});

test("who said what first and second", () => {
  const people = [{ id: "ila.venn", name: "Ila Venn" }, { id: "rin.oake", name: "Rin Oake" }] as never;
  const row = { asked: "", at: "", scope: {} as never, part: "tube_2", root: null, first_person: "ila.venn", first: [{ finding: "scratch", grade: "minor" }], second_person: "rin.oake", second: { finding: null, grade: null, words: null } };
  expect(saidOf([])).toBe("nothing found");
  expect(differSaid(row, people)).toBe("First: scratch, minor (Ila Venn). Second, without having seen it: nothing found (Rin Oake).");
});
