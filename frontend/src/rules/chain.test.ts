import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/chain.json";
import { advance, judge, notWithdrawable } from "./chain";
import { NOTHING, type RuleEntry, type ThreadState } from "./chain-state";

/** shared/vectors/chain.json: the same cases run in Python (tests/vectors/test_chain.py); each names its source. */
interface Case {
  readonly description: string;
  readonly history: readonly { readonly hash: string; readonly entry: RuleEntry }[];
  readonly next: { readonly hash: string; readonly entry: RuleEntry };
  readonly expected: { readonly verdict: string; readonly reason?: string };
}

const CASES = vectors.cases as unknown as readonly Case[];
const PINS: Readonly<Record<string, unknown>> = vectors.pins;
const pins = (sha256: string): unknown => PINS[sha256];

test.each(CASES)("$description", ({ history, next, expected }) => {
  let state: ThreadState = NOTHING;
  for (const { entry, hash } of history) {
    expect(judge(state, entry, hash, pins), `history: ${entry.kind}`).toEqual({ verdict: "counted" });
    state = advance(state, entry, hash);
  }
  expect(judge(state, next.entry, next.hash, pins)).toEqual(expected);
});

test("what a screen offers to take back is what the rules take", () => {
  const asked = CASES.filter(({ next }) => next.entry.kind === "entry.withdrawn");
  expect(asked.length).toBeGreaterThan(3);
  for (const { history, next, expected, description } of asked) {
    const state = history.reduce((before, { entry, hash }) => advance(before, entry, hash), NOTHING);
    expect(notWithdrawable(state, String(next.entry.body["entry"])), description).toBe(expected.reason);
  }
});

test("judging does not change the state", () => {
  for (const { history, next } of CASES) {
    const state = history.reduce((before, { entry, hash }) => advance(before, entry, hash), NOTHING);
    const before = JSON.stringify(state);
    judge(state, next.entry, next.hash, pins);
    advance(state, next.entry, next.hash);
    expect(JSON.stringify(state)).toBe(before);
  }
});
