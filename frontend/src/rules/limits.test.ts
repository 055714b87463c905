// capability: breadth
import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/limits.json";
import { type Limit, levelOf } from "./limits";

const limits = (JSON.parse(readFileSync(new URL("../../../shared/policy/policy.json", import.meta.url), "utf8")) as { readonly limits: readonly Limit[] }).limits;

/** shared/vectors/limits.json: the same cases run in Python (tests/vectors/test_limits.py); each names its source. */
test.each(vectors.levels as readonly { description: string; input: { what: string; value: number; unit: string | null; own_limit?: number }; expected: string }[])(
  "$description", ({ input, expected }) => {
    expect(levelOf(limits, input.what, input.value, input.unit ?? undefined, input.own_limit)).toBe(expected);
  },
);
