import { expect, test } from "vitest";
import { withLast } from "./last";
import type { ScopeCard } from "./rows";

const SCOPE: ScopeCard = { scope: "udi:1/2", scope_kind: "colonoscope", serial: "2", codes: [] };
const last = (point: string, at: string): NonNullable<ScopeCard["last"]> => ({ root: "ab", point, first: "nothing", goes: "on", at });

test("the newer of the card's and the tablet's own last inspection holds", () => {
  const old = last("at_leak_test", "2025-11-25T10:00:00.000+00:00");
  const fresh = last("after_cleaning", "2025-11-25T11:30:00.000+01:00");
  expect(withLast(SCOPE, undefined).last).toBeUndefined();
  expect(withLast(SCOPE, fresh).last).toEqual(fresh);
  expect(withLast({ ...SCOPE, last: old }, fresh).last).toEqual(fresh);
  expect(withLast({ ...SCOPE, last: fresh }, old).last).toEqual(fresh);
});
