// capability: breadth
import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/runs.json";
import { type ThreadState, markOf } from "./chain-state";
import { replay } from "./chain";
import { seenOf } from "./runs";

/** shared/vectors/runs.json: the same cases run in Python (tests/vectors/test_runs.py); worked by hand. */
test.each(vectors.runs)("$description", ({ input, expected }) => {
  const { why, portMm, tipMm, lengthMm, unseen, estimated } = seenOf(input);
  expect({ why, port_mm: portMm, tip_mm: tipMm, length_mm: lengthMm, unseen, estimated }).toEqual(expected);
});

const run = (way: string, reached_mm: number, more = {}) => ({ channel: "ch", outcome: "blocked", way, known: "read_off", reached_mm, length_mm: 1000, ...more });
const marked = (...bodies: readonly Readonly<Record<string, unknown>>[]): ThreadState =>
  replay(bodies.map((body, at) => ({ entry: { kind: "channel.looked", about: {}, body, photos: [] }, hash: String(at) })));

test("a channel is looked through when runs from both ends meet, and no longer when one is taken back", () => {
  expect(markOf(marked(run("from_port", 600)), "ch")).toBe("could_not_look");
  const both = marked(run("from_port", 600), run("from_tip", 400));
  expect(markOf(both, "ch")).toBe("nothing_found");
  const back = replay([{ entry: { kind: "entry.withdrawn", about: {}, body: { entry: "1", reason: "undo" }, photos: [] }, hash: "9" }], both);
  expect(markOf(back, "ch")).toBe("could_not_look");
});

test("what else was said of the channel still counts: a flow, a finding, a part that could not be looked at", () => {
  const both = [run("from_port", 600), run("from_tip", 400)];
  expect(markOf(marked(...both, { channel: "ch", outcome: "not_possible", flow: "weak" }), "ch")).toBe("could_not_look");
  expect(markOf(marked(...both, { ...run("from_tip", 10), channel: "other" }), "other")).toBe("could_not_look");
});
