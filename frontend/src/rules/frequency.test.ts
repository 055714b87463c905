// capability: breadth
import { readFileSync } from "node:fs";
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { drawn, notDue, type Frequency, type FrequencyRow, type Known } from "./frequency";

const DAY = 86_400_000;
const NOW = Date.parse("2026-11-25T10:21:00Z");
const table = JSON.parse(readFileSync(new URL("../../../shared/policy/frequency.json", import.meta.url), "utf8")) as Frequency;

const row = (how: Partial<FrequencyRow>, parts: readonly string[] = ["ch_air"]): FrequencyRow => ({
  scope_kind: "gastroscope", point: "after_cleaning", parts, source: "a test", ...how,
});
const known = (more: Partial<Known> = {}): Known => ({
  scope: "udi:51022222233336/1234", scopeKind: "gastroscope", point: "after_cleaning", now: NOW, looked: new Map(), cycles: [], ...more,
});
const left = (rows: readonly FrequencyRow[], about: Known): readonly string[] => notDue({ v: 1, rows }, about);

describe("every n days", () => {
  const looked = (ms: number): Known => known({ looked: new Map([["ch_air", NOW - ms]]) });
  test("a part is left out until n days of 24 hours have gone by, and is due on the dot", () => {
    expect(left([row({ every_days: 7 })], looked(7 * DAY - 1))).toEqual(["ch_air"]);
    expect(left([row({ every_days: 7 })], looked(7 * DAY))).toEqual([]);
  });
  test("a part nobody has looked at is due", () => {
    expect(left([row({ every_days: 7 })], known())).toEqual([]);
  });
  test("a row for another kind or another point says nothing", () => {
    expect(left([row({ every_days: 7, scope_kind: "colonoscope" }), row({ every_days: 7, point: "after_drying" })], looked(1))).toEqual([]);
  });
});

describe("every n cycles", () => {
  /** Looked at in the first of these cycles; each is concluded 10 minutes after its look, newest first. */
  const after = (cycles: number): Known => {
    const at = Array.from({ length: cycles }, (_, n) => NOW - (n + 1) * DAY + 600_000);
    return known({ cycles: at, looked: new Map([["ch_air", NOW - cycles * DAY]]) });
  };
  test("of five cycles the look is due in the first and in the sixth", () => {
    expect([1, 2, 3, 4, 5, 6].map((n) => left([row({ every_cycles: 5 })], after(n)).length)).toEqual([1, 1, 1, 1, 0, 0]);
  });
  test("every cycle leaves nothing out", () => {
    expect(left([row({ every_cycles: 1 })], after(1))).toEqual([]);
  });
  test("cycles nobody counted, or a look nobody made, are due", () => {
    expect(left([row({ every_cycles: 5 })], { ...after(2), cycles: undefined })).toEqual([]);
    expect(left([row({ every_cycles: 5 })], { ...after(2), looked: new Map() })).toEqual([]);
  });
  test("cycles before the look are not counted", () => {
    const two = after(2);
    expect(left([row({ every_cycles: 3 })], { ...two, cycles: [...(two.cycles ?? []), NOW - 30 * DAY, NOW - 40 * DAY] })).toEqual(["ch_air"]);
  });
});

describe("a sample", () => {
  // The shares worked out with another SHA-256 (Python's hashlib), first 32 bits over 2^32: 50.778 and 66.851 of 100.
  test("is drawn by date, scope and point as anybody can work it out", () => {
    const one = known();
    expect([50, 51].map((share) => drawn(share, one))).toEqual([false, true]);
    const other = known({ scope: "mms:alder|n2|0881633", now: NOW + DAY });
    expect([66, 67].map((share) => drawn(share, other))).toEqual([false, true]);
  });
  test("the hour changes nothing, nor does what was looked at", () => {
    fc.assert(fc.property(fc.integer({ min: 0, max: DAY - 1 }), fc.integer({ min: 1, max: 100 }), (ms, share) => {
      const start = Date.parse("2026-11-25T00:00:00Z");
      const rows = [row({ share_percent: share })];
      const first = left(rows, known({ now: start }));
      expect(left(rows, known({ now: start + ms, looked: new Map([["ch_air", start]]), cycles: [start] }))).toEqual(first);
    }));
  });
  test("none of a hundred never, a hundred of a hundred always", () => {
    fc.assert(fc.property(fc.string(), (scope) => {
      expect([drawn(0, known({ scope })), drawn(100, known({ scope }))]).toEqual([false, true]);
    }));
  });
  // Binomial, n 2,000, p 0.2: standard deviation 17.9; five of them are 90 (arithmetic).
  test("about its share of days is drawn", () => {
    const days = Array.from({ length: 2000 }, (_, n) => drawn(20, known({ now: NOW + n * DAY }))).filter(Boolean).length;
    expect(Math.abs(days - 400)).toBeLessThan(90);
  });
});

test("a part that two rows name is left out only where both say so, and stands once", () => {
  const about = known({ looked: new Map([["ch_air", NOW - 8 * DAY]]), cycles: [NOW - 8 * DAY + 1] });
  expect(left([row({ every_days: 7 }), row({ every_cycles: 5 })], about)).toEqual([]);
  expect(left([row({ every_days: 9 }), row({ every_cycles: 5 })], about)).toEqual(["ch_air"]);
});

test("a row without an interval leaves nothing out", () => {
  expect(left([row({})], known({ looked: new Map([["ch_air", NOW]]) }))).toEqual([]);
});

test("of the first table, a high-risk kind is due whole and a colonoscope's channels once a week", () => {
  const ids = ["ch_instrument", "ch_junction", "ch_suction", "ch_air", "ch_water", "ch_jet", "ch_wire"];
  const looked = new Map(ids.map((id) => [id, NOW - DAY] as const));
  const about = (scopeKind: string): Known => known({ scopeKind, looked, cycles: [NOW - DAY + 600_000] });
  expect(notDue(table, about("duodenoscope"))).toEqual([]);
  expect(notDue(table, about("colonoscope"))).toEqual(ids.slice(0, 6));
  expect(notDue(table, about("gastroscope"))).toEqual(ids.slice(0, 5));
});
