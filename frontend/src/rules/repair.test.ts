// capability: repair
import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/repair.json";
import { differs, loanerOf, outFact, type Repair, type RepairEvent, type RepairLook, repairOf, type RepairWhat, stopsUse } from "./repair";

/** shared/vectors/repair.json: the same cases run in Python (tests/vectors/test_repair.py); each names its source. */
interface Given {
  readonly entry: string; readonly what: string; readonly by: string; readonly at: number; readonly repair?: string; readonly on?: string;
  readonly over?: readonly string[]; readonly undone?: boolean; readonly said?: Readonly<Record<string, unknown>>; readonly photos?: number;
}

function eventOf(given: Given): RepairEvent {
  return {
    entry: given.entry, what: given.what as RepairWhat, person: given.by, at_ms: given.at, repair: given.repair ?? "", basis: given.on ?? "",
    over: given.over ?? [], undone: given.undone ?? false, said: given.said ?? {}, photos: given.photos ?? 0,
  };
}

interface Seen {
  readonly entry: string; readonly what: string; readonly at: number; readonly goes?: string;
}
const lookOf = ({ entry, what, at, goes = "" }: Seen): RepairLook => ({ entry, what: what as RepairLook["what"], at_ms: at, goes });

function told(repair: Repair | undefined): { readonly stands: object | null; readonly trip?: object } {
  if (repair === undefined) return { stands: null };
  const { since_ms, stage, shipments, returns, undecided, bounces, owes, ...rest } = repair;
  return { stands: { ...rest, since: since_ms }, trip: { stage, shipments, returns, undecided, bounces, owes } };
}

test.each(vectors.cases)("what stands is the same in any order: $description", ({ events, serial_photo, expected, ...more }) => {
  const all = (events as readonly Given[]).map(eventOf);
  const looks = ("looks" in more ? (more.looks as readonly Seen[]) : []).map(lookOf);
  const twice = [repairOf(all, serial_photo, looks), repairOf([...all.toReversed(), ...all], serial_photo, looks.toReversed())].map(told);
  expect(twice.map(({ stands }) => stands)).toEqual([expected, expected]);
  if ("trip" in more) expect(twice.map(({ trip }) => trip)).toEqual([more.trip, more.trip]);
});

test.each(vectors.loans)("a loan stands until it left: $description", ({ events, looks, expected }) => {
  const loaner = loanerOf((events as readonly Given[]).map(eventOf), (looks as readonly Seen[]).map(lookOf));
  expect(loaner === undefined ? null : { stage: loaner.stage, since: loaner.since_ms, came: loaner.came }).toEqual(expected);
});

test.each(vectors.uses)("what stops a use is a repair that stands or a loan not in service: $description", ({ events, looks, expected }) => {
  const [all, seen] = [(events as readonly Given[]).map(eventOf), (looks as readonly Seen[]).map(lookOf)];
  expect(stopsUse(repairOf(all, true, seen), loanerOf(all, seen)) ?? null).toEqual(expected);
});

test.each(vectors.differences)("what came back otherwise than it left is found: $description", ({ left, came, expected }) => {
  expect(differs(left, came)).toEqual(expected);
});

test("how long it is out counts whole minutes and is not told by a wrong clock", () => {
  expect(outFact(1_000, "colonoscope", 121_999)["minutes"]).toBe(2);
  expect(outFact(1_000, "colonoscope", 999)).not.toHaveProperty("minutes");
});
