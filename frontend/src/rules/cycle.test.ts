// capability: breadth
import { expect, test } from "vitest";
import policyFile from "../../../shared/policy/policy.json";
import vectors from "../../../shared/vectors/cycle.json";
import { type CycleEvent, limitOf, minutesOf, spanFacts, spansOf, standOf } from "./cycle";
import { type Policy, suggest } from "./policy";

/** shared/vectors/cycle.json: the same cases run in Python (tests/vectors/test_cycle.py); each names its source. */
interface Given {
  readonly what: string; readonly at: string; readonly chain?: string; readonly seq?: number; readonly same_as?: number;
  readonly place?: string; readonly first?: string; readonly goes?: string; readonly procedure_end?: string;
  readonly cleaning?: string; readonly of?: number;
}
interface Case {
  readonly description: string; readonly now: string; readonly events: readonly Given[];
  readonly expected: {
    readonly phase: string; readonly since: string | null; readonly disinfected: number | null;
    readonly spans: Readonly<Record<string, number | null>>; readonly first: string; readonly rows: readonly string[];
  };
}
const POLICY = policyFile as unknown as Policy;
const ms = (moment: string | undefined): number | null => (moment === undefined ? null : Date.parse(moment));

function eventOf(given: Given, index: number): CycleEvent {
  return {
    entry: `e${given.same_as ?? index}`, what: given.what, at_ms: Date.parse(given.at), chain: given.chain ?? "a", seq: given.seq ?? index + 1,
    place: given.place ?? "", first: given.first, goes: given.goes, procedure_end_ms: ms(given.procedure_end),
    cleaning_ms: ms(given.cleaning), of: given.of === undefined ? null : `e${given.of}`,
  };
}

test.each(vectors.cases as unknown as Case[])("a scope stands where its events put it: $description", ({ now, events, expected }) => {
  const nowMs = Date.parse(now);
  const stand = standOf(events.map(eventOf), nowMs);
  const asked = suggest(POLICY, spanFacts(stand, "colonoscope", nowMs));
  expect({
    phase: stand.phase,
    since: stand.last === undefined ? null : stand.since_ms,
    disinfected: stand.disinfected?.entry ?? null,
    spans: Object.fromEntries(spansOf(stand).map((span) => [span.span, minutesOf(span, nowMs) ?? null])),
    first: asked.first,
    rows: asked.rows.map(({ row }) => row),
  }).toEqual({
    ...expected,
    since: expected.since === null ? null : Date.parse(expected.since),
    disinfected: expected.disinfected === null ? null : `e${expected.disinfected}`,
  });
});

test("the limit of a row is the figure in the policy, in whole minutes", () => {
  expect([limitOf(POLICY, "delay_over"), limitOf(POLICY, "out_over"), limitOf(POLICY, "hung_over"), limitOf(POLICY, "span_unknown")])
    .toEqual([60, 180, 10_080, undefined]);
});
