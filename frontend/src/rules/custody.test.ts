// capability: repair
import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/custody.json";
import { type Custody, type CustodyEvent, custodyOf, type CustodyWhat, type Holder, HOUSE, mayTake } from "./custody";

/** shared/vectors/custody.json: the same cases run in Python (tests/vectors/test_custody.py); each names its source. */
interface Given {
  readonly entry: string; readonly what: string; readonly on: string; readonly by: string; readonly at: number;
  readonly holder?: readonly string[]; readonly over?: readonly string[]; readonly offer?: Given;
}

function holderOf(pair: readonly string[] | undefined): Holder {
  return pair === undefined ? HOUSE : { kind: pair[0] as Holder["kind"], name: pair[1] ?? "" };
}

function eventOf(given: Given): CustodyEvent {
  return {
    entry: given.entry, what: given.what as CustodyWhat, basis: given.on, person: given.by, at_ms: given.at,
    holder: holderOf(given.holder), over: given.over ?? [], ...(given.offer === undefined ? {} : { offer: eventOf(given.offer) }),
  };
}

function told({ state, holder, to, since_ms, tips, why, waiting }: Custody): object {
  const pair = (one: Holder | null): readonly string[] | null => (one === null ? null : [one.kind, one.name]);
  return { state, holder: pair(holder), to: pair(to), since: since_ms, tips, why, waiting };
}

test.each(vectors.cases)("a scope is where its events put it, in any order: $description", ({ events, expected }) => {
  const all = (events as readonly Given[]).map(eventOf);
  expect(told(custodyOf(all))).toEqual(expected);
  expect(told(custodyOf([...all.toReversed(), ...all]))).toEqual(expected);
});

test("the giver may not take, and what is meant for one is not for another", () => {
  const offered = (to: Holder): Custody =>
    custodyOf([{ entry: "o1", what: "offered", basis: "", person: "rin", at_ms: 1, holder: to, over: [] }]);
  expect(["rin", "tam", "ila"].map((who) => mayTake(offered(HOUSE), who))).toEqual([false, true, true]);
  expect(["rin", "tam", "ila"].map((who) => mayTake(offered({ kind: "person", name: "tam" }), who))).toEqual([false, true, false]);
  expect(mayTake(custodyOf([]), "tam")).toBe(false);
});
