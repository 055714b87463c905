// capability: breadth
import { expect, test } from "vitest";
import { type CycleEvent, standOf } from "./cycle";
import { type Act, nameOf, offerOf, waitsFor } from "./next";

/** The order of the steps, and what belongs to which side, is common practice, no source. */
const HOUR = 3_600_000;
const NOW = 100 * HOUR;
const DIRTY = { side: "dirty" as const, points: ["at_leak_test", "after_cleaning", "acceptance"] };
const CLEAN = { side: "clean" as const, points: ["after_drying", "before_use"] };
const NONE: ReadonlySet<string> = new Set();
const ALL: ReadonlySet<string> = new Set(["received", "processed", "hung", "taken"]);

/** A scope after these words, a minute apart, the last of them `ago` ms ago. "after_drying dry" asks for drying first. */
function after(words: readonly string[], ago = HOUR): ReturnType<typeof standOf> {
  const events = words.map((word, index): CycleEvent => {
    const [what = "", first = "nothing", goes = "on"] = word.split(" ");
    return { entry: `e${index}`, what, at_ms: NOW - ago - (words.length - 1 - index) * 60_000, chain: "a", seq: index + 1, first, goes };
  });
  return standOf(events, NOW);
}
const names = (acts: readonly Act[]): readonly string[] => acts.map(nameOf);

test.each([
  [["received"], DIRTY, ["cleaning", "at_leak_test", "after_cleaning"]],
  [["received", "at_leak_test"], DIRTY, ["after_cleaning", "cleaning"]],
  [["after_cleaning"], CLEAN, ["processed", "after_drying"]],
  [["processed"], CLEAN, ["after_drying", "hung"]],
  [["processed", "after_drying"], CLEAN, ["hung", "before_use"]],
  [["processed", "after_drying dry"], CLEAN, ["after_drying"]],
  [["processed", "after_drying clean"], DIRTY, ["after_cleaning", "received"]],
  [["processed", "hung"], CLEAN, ["taken", "before_use"]],
  [["processed", "hung", "taken"], CLEAN, ["before_use", "hung"]],
  [["before_use"], DIRTY, ["received", "at_leak_test"]],
] as const)("after %j the likeliest stand first", (words, here, expected) => {
  const { acts, likely } = offerOf(after(words), here, ALL, NOW);
  expect(names(acts.slice(0, likely))).toEqual(expected);
});

test("a side offers its own points and steps alone, each once", () => {
  expect(names(offerOf(after([]), DIRTY, ALL, NOW).acts)).toEqual(["received", "at_leak_test", "after_cleaning", "acceptance"]);
  expect(names(offerOf(after([]), CLEAN, ALL, NOW).acts)).toEqual(["processed", "after_drying", "hung", "taken", "before_use"]);
});

test("nothing is sure in doubt: unknown, received, processed, hung, held, sent back, or long ago", () => {
  for (const words of [[], ["received"], ["processed"], ["hung"], ["at_leak_test nothing hold"], ["after_cleaning clean"]]) {
    expect(offerOf(after(words), DIRTY, ALL, NOW).sure, JSON.stringify(words)).toBeUndefined();
  }
  expect(offerOf(after(["at_leak_test"], 12 * HOUR), DIRTY, ALL, NOW).sure).toBeUndefined();
});

test("the look after the leak test is sure; the others only where no steps are recorded at all", () => {
  expect(offerOf(after(["at_leak_test"]), DIRTY, ALL, NOW).sure).toEqual({ do: "inspect", point: "after_cleaning" });
  expect(offerOf(after(["after_cleaning"]), CLEAN, NONE, NOW).sure).toEqual({ do: "inspect", point: "after_drying" });
  expect(offerOf(after(["after_cleaning"]), CLEAN, ALL, NOW).sure).toBeUndefined();
});

test.each([
  [["received"], "cleaning", "dirty"],
  [["at_leak_test"], "after_cleaning", "dirty"],
  [["after_cleaning"], "processed", "clean"],
  [["after_cleaning clean"], "after_cleaning", "dirty"],
  [["processed", "after_drying dry"], "after_drying", "clean"],
  [["processed", "after_drying whole"], "after_cleaning", "dirty"],
  [["processed", "hung", "taken"], "before_use", "clean"],
] as const)("after %j it waits", (words, act, side) => {
  const waits = waitsFor(after(words), ALL, NOW);
  expect([waits === undefined ? undefined : nameOf(waits.act), waits?.side]).toEqual([act, side]);
});

test("what hangs, is in use, is with a lead, or was long ago waits for nothing", () => {
  for (const words of [[], ["processed", "hung"], ["taken", "before_use"], ["after_cleaning nothing hold"]]) {
    expect(waitsFor(after(words), ALL, NOW), JSON.stringify(words)).toBeUndefined();
  }
  expect(waitsFor(after(["received"], 12 * HOUR), ALL, NOW)).toBeUndefined();
});

test("a step that nobody records here is not waited for: the next look is", () => {
  const waits = waitsFor(after(["after_cleaning"]), NONE, NOW);
  expect(waits).toEqual({ act: { do: "inspect", point: "after_drying" }, side: "clean" });
});

test("a hold never cancels the cleaning", () => {
  expect(waitsFor(after(["after_cleaning clean hold"]), ALL, NOW)?.side).toBe("dirty");
});
