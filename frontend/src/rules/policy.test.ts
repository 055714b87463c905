import { expect, test } from "vitest";
import policyFile from "../../../shared/policy/policy.json";
import vectors from "../../../shared/vectors/policy.json";
import { type SentBack, sentBackWithin } from "./again";
import { allHold, type Condition, type Fact } from "./conditions";
import { mayChoose, type Policy, suggest } from "./policy";

/** shared/vectors/policy.json: the same cases run in Python (tests/vectors/test_policy.py); each names its source. */
const POLICY = policyFile as unknown as Policy;

test.each(vectors.suggestions as unknown as { description: string; input: Fact[]; expected: unknown }[])(
  "the policy suggests: $description",
  ({ input, expected }) => expect(suggest(POLICY, input)).toEqual(expected),
);

test.each(vectors.conditions as unknown as { description: string; input: { when: Condition[]; fact: Fact }; expected: boolean }[])(
  "a condition: $description",
  ({ input, expected }) => expect(allHold(input.when, input.fact)).toBe(expected),
);

test.each(vectors.sent_back as readonly { description: string; input: { back: readonly SentBack[]; root: string; before_ms: number; days: number }; expected: number }[])(
  "sent back to cleaning, over cycles: $description",
  ({ input, expected }) => expect(sentBackWithin(input.back, input.root, input.before_ms, input.days)).toBe(expected),
);

test("a row nobody may override forbids the laxer answer", () => {
  const rows = [{ row: "leak_failed", fact: 0 }, { row: "soil_again", fact: 1 }];
  expect(mayChoose(POLICY, rows, "clean", "hold")).toBe(false);
  expect(mayChoose(POLICY, rows, "nothing", "repair")).toBe(true);
});
