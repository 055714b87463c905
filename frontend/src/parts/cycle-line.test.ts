// capability: breadth
import { expect, test } from "vitest";
import { type CycleEvent, standOf } from "../rules/cycle";
import { ROUND, roundOf, type Station, stationsOf } from "./cycle-line";

/** The order of the stations: common practice, no source. */
const event = (what: string, minute: number, more: Partial<CycleEvent> = {}): CycleEvent => ({
  entry: `${what}${minute}`, what, at_ms: minute * 60_000, chain: "a", seq: minute, ...more,
});
const NOW_MS = 1_000 * 60_000;
const stations = (events: readonly CycleEvent[], at?: string): readonly Station[] =>
  stationsOf(roundOf(events, NOW_MS), standOf(events, NOW_MS).last?.what, at);
const known = (events: readonly CycleEvent[], at?: string): string[] => stations(events, at).filter((each) => each.known).map((each) => each.id);
const here = (events: readonly CycleEvent[], at?: string): string[] => stations(events, at).filter((each) => each.here).map((each) => each.id);

test("a scope of which nothing is known has eight outlines and no ring", () => {
  expect(stations([]).map((each) => each.id)).toEqual(ROUND);
  expect([known([]), here([])]).toEqual([[], []]);
});

test("what happened is inked at its place, and the ring sits on the last of it", () => {
  const events = [event("received", 1), event("after_cleaning", 30, { first: "nothing", goes: "on" })];
  expect(known(events)).toEqual(["received", "after_cleaning"]);
  expect(here(events)).toEqual(["after_cleaning"]);
});

test("a step that is being recorded wears the ring and is not known yet", () => {
  const events = [event("received", 1)];
  expect([known(events, "processed"), here(events, "processed")]).toEqual([["received"], ["processed"]]);
  expect(here(events, "cleaning")).toEqual(["received"]);
});

test("a new receipt begins the round anew", () => {
  const events = [event("received", 1), event("processed", 60), event("hung", 90), event("received", 400)];
  expect(known(events)).toEqual(["received"]);
});

test("all that happened in this round is inked, the look that let it go too", () => {
  const events = [
    event("received", 1), event("at_leak_test", 7), event("after_cleaning", 25), event("processed", 80), event("after_drying", 130),
    event("hung", 170), event("taken", 180), event("before_use", 184, { first: "nothing", goes: "on" }),
  ];
  expect(known(events)).toEqual(ROUND);
  expect(here(events)).toEqual(["before_use"]);
  expect(known([...events, event("after_cleaning", 300)])).toEqual(["after_cleaning"]);
});

test("what was told later of a receipt is no station of its own", () => {
  expect(known([event("received", 1), event("hung", 2), event("received", 3, { of: "received1" })])).toEqual(["received", "hung"]);
});
