// capability: repair
import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/repair.json";
import { differs, loanerOf, mayGoBack, outFact, type Repair, type RepairEvent, type RepairLook, repairOf, type RepairWhat, stopsUse, tieOf } from "./repair";

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
  expect(loaner === undefined ? null : { stage: loaner.stage, since: loaner.since_ms, came: loaner.came, owes: loaner.owes, for: loaner.stands_for }).toEqual(expected);
});

test.each(vectors.ties)("a loan stands in for the scope that was said last: $description", ({ events, shipped, expected }) => {
  const loaner = loanerOf((events as readonly Given[]).map(eventOf));
  const words = (shipped as readonly (Given & { readonly scope: string })[]).map((each) => [each.scope, eventOf(each)] as const);
  const tie = loaner === undefined ? undefined : tieOf("L", loaner, words);
  expect(tie === undefined ? null : { scope: tie.scope, since: tie.since_ms }).toEqual(expected);
});

/** When a lead released it is what the server's cards carry; here the vectors' own closing words say it. */
test.each(vectors.goes_back)("a loan may go back once the scope it stands in for is released: $description", ({ events, tied, expected }) => {
  const all = (events as readonly Given[]).map(eventOf);
  const released = Math.max(0, ...all.filter(({ what, said }) => what === "closed" && said["outcome"] === "done").map(({ at_ms }) => at_ms));
  expect(mayGoBack({ scope: "S", since_ms: tied }, repairOf(all, true), released)).toBe(expected);
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
