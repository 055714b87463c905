// capability: photos
import { expect, test } from "vitest";
import { mayBeCompared, sideBySide, type Standing } from "./side-by-side";

const both: Standing = { inSight: true, then: "then", now: "now", loaded: { then: "then", now: "now" } };

test("both pictures loaded and in sight together are a pair", () => {
  expect(sideBySide(both)).toEqual({ before: "then", now: "now" });
});

test.each<[string, Partial<Standing>]>([
  ["below the edge, or one over the other", { inSight: false }],
  ["no photo of before", { then: undefined }],
  ["no photo now", { now: undefined }],
  ["the picture of before is still to come", { loaded: { then: undefined, now: "now" } }],
  ["the picture of now is still to come", { loaded: { then: "then", now: undefined } }],
  ["the picture of before is that of another photo", { loaded: { then: "another", now: "now" } }],
  ["a newer photo was taken, whose picture is still to come", { now: "newer" }],
  ["neither is there, and neither is loaded", { then: undefined, now: undefined, loaded: { then: undefined, now: undefined } }],
])("not a pair: %s", (_, differs) => {
  expect(sideBySide({ ...both, ...differs })).toBeUndefined();
});

test("same and worse are offered of the very pair that was seen, while neither is hidden", () => {
  const seen = { before: "then", now: "now" };
  const [now, thens] = [{ sha256: "now", hidden: false }, [{ sha256: "first" }, { sha256: "then" }]];
  expect(mayBeCompared(seen, now, thens)).toBe(true);
  expect(mayBeCompared(null, now, thens), "never seen").toBe(false);
  expect(mayBeCompared(seen, { sha256: "newer", hidden: false }, thens), "one more photo since").toBe(false);
  expect(mayBeCompared(seen, { sha256: undefined, hidden: false }, thens), "no photo now").toBe(false);
  expect(mayBeCompared(seen, now, [{ sha256: "first" }]), "no photo of before of this part").toBe(false);
  expect(mayBeCompared(seen, { sha256: "now", hidden: true }, thens), "hidden now").toBe(false);
  expect(mayBeCompared(seen, now, [{ sha256: "then", hidden: true }]), "hidden then").toBe(false);
});
