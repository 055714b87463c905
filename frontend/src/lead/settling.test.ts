// capability: sink
import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { whatCounts } from "./settling";

/** The closed list of DEVELOPERS.md, "Verdicts". */
const DEVELOPERS = readFileSync(new URL("../../../DEVELOPERS.md", import.meta.url), "utf8");
const listed = (after: string): readonly string[] => {
  const line = DEVELOPERS.split("\n").find((each) => each.startsWith(after)) ?? "";
  return (line.match(/`([a-z_ ]+)`/g) ?? []).flatMap((words) => words.replaceAll("`", "").split(" "));
};

test("each reason of the closed list says whether a lead can let it count, and why", () => {
  const door = listed("door verdicts");
  const chain = listed("chain verdicts");
  expect(door).toHaveLength(12);
  expect(chain).toHaveLength(13);
  const may = [...door, ...chain].filter((reason) => whatCounts({ reason, settled: null }).may);
  expect(may).toEqual([
    "station_revoked", "person_unknown", "person_inactive", "role_may_not", "catalogue_unknown", "policy_unknown", "waits",
  ]);
});

test("what was let in is not let in again", () => {
  expect(whatCounts({ reason: "waits", settled: "count" })).toEqual({ may: false, note: "desk.let_in_waits" });
  expect(whatCounts({ reason: "serial_first", settled: "count" })).toEqual({ may: false, note: "desk.let_in_stands" });
});
