// capability: breadth
import { readFileSync } from "node:fs";
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Catalogue } from "./chain-catalogue";
import { type Live, NOTHING, type PartMark, type ThreadState } from "./chain-state";
import { factsOf } from "./facts";
import { mayChoose, type Policy, suggest } from "./policy";
import { checksLeft, countMarks, itemDone, marksOf, nextStop, routeOf, zoneOffer, type Route } from "./route";

const read = (path: string): unknown => JSON.parse(readFileSync(new URL(`../../../shared/${path}`, import.meta.url), "utf8"));
const catalogue = read("catalogue/catalogue.json") as Catalogue;
const policy = read("policy/policy.json") as Policy;
const words = read("words/en.json") as Readonly<Record<string, unknown>>;
const EVERY = Object.entries(catalogue.kinds).flatMap(([kind, { points }]) => Object.keys(points).map((point) => [kind, point] as const));
/** Elevator, nozzle, channel outlet, adhesive bands, biopsy port: the product's rule. */
const NEVER = new Set(["EL", "NZ", "CO", "AB", "BP"]);

function at(kind: string, point: string, none: readonly string[] = [], notDue: readonly string[] = []): Route {
  const route = routeOf(catalogue, kind, point, none, notDue);
  if (route === undefined) throw new Error(`no ${kind} at ${point}`);
  return route;
}
const withMarks = (marks: Readonly<Record<string, PartMark>>): ThreadState => ({
  ...NOTHING, marks: Object.fromEntries(Object.entries(marks).map(([id, mark]) => [id, [[mark, "h"] as const]])),
});
const reading = (what: string, result: string): Live => ({ hash: `${what}:${result}`, version: `${what}:${result}`, kind: "reading.taken", body: { what, result }, photos: [] });

describe.each(EVERY)("%s, %s", (kind, point) => {
  test("the six counts add up whatever was marked, and not looked at is never nothing found", () => {
    const ids = at(kind, point).stops.map((stop) => stop.id);
    const mark = fc.constantFrom<PartMark>("finding", "could_not_look", "nothing_found");
    fc.assert(fc.property(
      fc.dictionary(fc.constantFrom(...ids), mark), fc.subarray(ids), fc.subarray(ids), (marks, none, notDue) => {
        const counts = countMarks(marksOf(at(kind, point, none, notDue), withMarks(marks)));
        expect(Object.values(counts).reduce((a, b) => a + b, 0)).toBe(ids.length);
        expect(counts.not_looked).toBe(ids.filter((id) => !(id in marks) && !none.includes(id) && !notDue.includes(id)).length);
        expect(counts.nothing_found).toBe(Object.values(marks).filter((each) => each === "nothing_found").length);
      },
    ), { numRuns: 30 });
  });

  test("the walk ends, each tap marks something, and no zone holds what asks for a look of its own", () => {
    const route = at(kind, point);
    const code = new Map(route.stops.map((stop) => [stop.id, stop.code]));
    const marked: Record<string, PartMark> = {};
    for (let taps = 0; taps <= route.stops.length; taps += 1) {
      const marks = marksOf(route, withMarks(marked));
      const stop = nextStop(route, marks);
      if (stop === undefined) break;
      const offer = zoneOffer(route, withMarks(marked), marks, stop.id);
      const parts = offer !== undefined && "parts" in offer ? offer.parts : [stop.id];
      if (parts.length > 1) expect(parts.filter((id) => NEVER.has(code.get(id) ?? ""))).toEqual([]);
      for (const id of parts) marked[id] = "nothing_found";
    }
    expect(Object.keys(marked).sort()).toEqual(route.stops.map((stop) => stop.id).sort());
  });
});

test("every finding at every point reaches a decision whose reason has words and a source", () => {
  const silent: string[] = [];
  for (const [finding, known] of Object.entries(catalogue.findings)) {
    for (const point of Object.keys(catalogue.kinds["colonoscope"]?.points ?? {})) {
      for (const since of ["new", "same", "worse", "unknown"]) {
        for (const grade of known.grades ? ["minor", "moderate", "severe"] : ["present"]) {
          const fact = { what: "finding", finding, class: known.class, urgency: known.urgency, grade, since, point, cleanings: 0, dryings: 0 };
          const { rows } = suggest(policy, [fact]);
          const told = rows.some(({ row }) => `policy.${row}` in words && policy.rows.some((each) => each.id === row && each.source !== ""));
          if (!told) silent.push(`${finding} ${point} ${since} ${grade}`);
        }
      }
    }
  }
  expect(silent).toEqual([]);
});

describe("a reading becomes a fact", () => {
  const context = { scopeKind: "tee_probe", point: "acceptance", serial: "yes", cleanings: 0 } as const;
  const counts = countMarks(marksOf(at("tee_probe", "acceptance"), NOTHING));
  const decided = (...live: readonly Live[]) => {
    const facts = factsOf({ ...NOTHING, live }, catalogue, counts, context);
    return suggest(policy, facts.map((fact) => fact.fields as Parameters<typeof suggest>[1][number]));
  };
  // IAC adult echocardiography standard, as quoted in the trade press: out of use after a failed electrical test.
  test("a leakage current over the limit goes to repair, and nobody may choose laxer", () => {
    const given = decided(reading("leakage_current", "over_limit"));
    expect(given).toMatchObject({ goes: "repair", rows: [{ row: "leakage_failed" }] });
    expect(mayChoose(policy, given.rows, "nothing", "hold")).toBe(false);
  });
  // Common practice, no source.
  test("functions: works goes on, weak waits, what does not work is repaired, not tried waits", () => {
    expect(["works", "weak", "does_not_work", "not_checked"].map((result) => decided(reading("function_image", result)).goes)).toEqual(["on", "hold", "repair", "hold"]);
  });
  test("of functions tried twice the stricter counts", () => {
    expect(decided(reading("function_image", "does_not_work"), reading("function_image", "works")).goes).toBe("repair");
  });
  test("a measured value and an unknown id are no facts of the policy", () => {
    expect(decided(reading("protein", "value"), reading("function_of_another_catalogue", "weak")).rows).toEqual([]);
  });
  test("a catalogue from before there were checks has none", () => {
    const { checks: _, ...earlier } = catalogue;
    expect(factsOf({ ...NOTHING, live: [reading("function_image", "weak")] }, earlier, counts, context)).toHaveLength(1);
  });
});

describe("the five things before use", () => {
  const route = at("duodenoscope", "before_use");
  const done = (state: ThreadState): readonly string[] =>
    route.items.filter((item) => itemDone(item, route, state, marksOf(route, state))).map((item) => item.id);

  test("are open until each part is marked and each function tried", () => {
    expect(done(NOTHING)).toEqual([]);
    const marks = Object.fromEntries(route.stops.map((stop) => [stop.id, "nothing_found" as const]));
    expect(done(withMarks(marks))).toEqual(["outside", "valves"]);
    expect(done({ ...withMarks(marks), live: route.checks.map((check) => reading(check, "works")) })).toEqual(route.items.map((item) => item.id));
  });
  test("a function left over is named, in the order of the catalogue", () => {
    expect(checksLeft(route, { ...NOTHING, live: [reading("function_tip_elevator", "works")] })).toEqual(["function_image_light", "function_air_water_suction"]);
  });
});

describe("whatever a screen makes of the catalogue has its words", () => {
  const kinds = Object.values(catalogue.kinds);
  const without = (prefix: string, ids: Iterable<string>, suffix = ""): readonly string[] =>
    [...new Set(ids)].filter((id) => !(`${prefix}.${id}${suffix}` in words));
  const parts = kinds.flatMap((kind) => [...kind.parts, ...kind.channels].map(({ id }) => id));
  const points = kinds.flatMap((kind) => Object.values(kind.points));

  test.each([
    ["kinds", without("kind", Object.keys(catalogue.kinds))],
    ["parts and channels", without("part", parts)],
    ["parts and channels under the line", without("part", parts, ".short")],
    ["findings", without("seen", Object.keys(catalogue.findings))],
    ["reasons", without("reason", Object.values(catalogue.reasons).flat())],
    ["functions", without("check", catalogue.checks ?? [])],
    ["functions, what to look at", without("check", catalogue.checks ?? [], ".note")],
    ["things before use", without("item", points.flatMap((point) => (point.items ?? []).map(({ id }) => id)))],
    ["things before use, what to look at", without("item", points.flatMap((point) => (point.items ?? []).map(({ id }) => id)), ".note")],
    ["steps of the test", without("leak.step", kinds.flatMap((kind) => kind.leak_steps))],
    ["cautions", without("caution.part", kinds.flatMap((kind) => kind.parts.flatMap(({ caution }) => caution ?? [])))],
    ["zones", without("zone", kinds.flatMap((kind) => kind.zones))],
    ["points, where it goes on", without("goes.on", Object.keys(kinds[0]?.points ?? {}))],
    ["rows of the policy", without("policy", policy.rows.map(({ id }) => id))],
    ["flows", without("flow.said", ["free", "weak", "blocked", "not_done"])],
  ] as const)("%s", (_, missing) => expect(missing).toEqual([]));
});

describe("a run through a channel becomes a fact", () => {
  const context = { scopeKind: "gastroscope", point: "after_cleaning", serial: "yes" } as const;
  const counts = countMarks(marksOf(at("gastroscope", "after_cleaning"), NOTHING));
  const run = (body: Readonly<Record<string, unknown>>): Live => ({ hash: "run", version: "run", kind: "channel.looked", body, photos: [] });
  const decided = (body: Readonly<Record<string, unknown>>, cleanings = 0, point: string = context.point) => {
    const facts = factsOf({ ...NOTHING, live: [run(body)] }, catalogue, counts, { ...context, point, cleanings });
    const { first, goes } = suggest(policy, facts.map((fact) => fact.fields as Parameters<typeof suggest>[1][number]));
    return `${first} ${goes}`;
  };
  // Common practice, no source.
  test.each([
    [{ channel: "ch_air", outcome: "not_possible", flow: "free" }, 0, "after_cleaning", "nothing on"],
    [{ channel: "ch_air", outcome: "not_possible", flow: "not_done", reason: "no_time" }, 0, "after_cleaning", "nothing on"],
    [{ channel: "ch_air", outcome: "not_possible", flow: "weak" }, 0, "after_cleaning", "clean on"],
    [{ channel: "ch_air", outcome: "not_possible", flow: "blocked" }, 1, "after_cleaning", "clean repair"],
    [{ channel: "ch_air", outcome: "not_possible", flow: "blocked" }, 0, "after_drying", "whole on"],
    [{ channel: "ch_instrument", outcome: "through" }, 0, "after_cleaning", "nothing on"],
    [{ channel: "ch_instrument", outcome: "blocked", reason: "resistance" }, 0, "after_cleaning", "nothing hold"],
    [{ channel: "ch_instrument", outcome: "blocked", reason: "too_short" }, 0, "after_cleaning", "nothing on"],
  ] as const)("%o after %i cleanings, %s: %s", (body, cleanings, point, says) => expect(decided(body, cleanings, point)).toBe(says));
});

test.each(Object.keys(catalogue.kinds))("%s after drying: every place can be wet, and moisture is looked for first", (kind) => {
  for (const stop of at(kind, "after_drying").stops) {
    const classes = stop.lookFor.map((id) => catalogue.findings[id]?.class);
    expect(classes[0], stop.id).toBe("moisture");
    expect(stop.lookFor.toSorted()).toEqual(at(kind, "acceptance").stops.find(({ id }) => id === stop.id)?.lookFor.toSorted());
  }
});
