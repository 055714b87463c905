// capability: repair
import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/repair.json";
import { type Repair, type RepairEvent, repairOf, type RepairWhat } from "./repair";

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

function told(repair: Repair | undefined): object | null {
  if (repair === undefined) return null;
  const { since_ms, ...rest } = repair;
  return { ...rest, since: since_ms };
}

test.each(vectors.cases)("what stands is the same in any order: $description", ({ events, serial_photo, expected }) => {
  const all = (events as readonly Given[]).map(eventOf);
  expect(told(repairOf(all, serial_photo))).toEqual(expected);
  expect(told(repairOf([...all.toReversed(), ...all], serial_photo))).toEqual(expected);
});
