// capability: breadth
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { reachIn, roomIn, unseen } from "./fit";

/**
 * Borescopes by channels, in micrometres: what their printed widths leave. "no" and "tight" as in the table of common
 * practice (no agency or society figure for clearance was found); the room is arithmetic: (inner - outer) / 2.
 */
const CHANNELS = [1200, 2000, 2200, 2800, 3200, 3700, 4200] as const;
const TABLE: Readonly<Record<number, readonly string[]>> = {
  1000: ["room 100", "room 500", "room 600", "room 900", "room 1100", "room 1350", "room 1600"],
  1600: ["no", "room 200", "room 300", "room 600", "room 800", "room 1050", "room 1300"],
  1900: ["no", "tight 50", "room 150", "room 450", "room 650", "room 900", "room 1150"],
  2600: ["no", "no", "no", "tight 100", "room 300", "room 550", "room 800"],
};

describe.each(Object.entries(TABLE))("a borescope of %s micrometres", (outer, row) => {
  test.each(row.map((says, at) => [CHANNELS[at] ?? 0, says] as const))("in a channel of %i: %s", (inner, says) => {
    const room = roomIn(Number(outer), inner);
    expect(room.says === "no_fit" ? "no" : room.says === "not_known" ? "?" : `${room.says} ${room.eachSideUm}`).toBe(says);
  });
});

/** Lengths in millimetres. 1.9 m against a tube of 1.68 m, and against tube and cord together: common practice, arithmetic. */
test.each([
  [1900, 1820, { says: "whole" }], [1900, 1900, { says: "whole" }], [1900, 3000, { says: "too_short", beyondMm: 1100 }],
  [600, 1820, { says: "too_short", beyondMm: 1220 }], [undefined, 1820, { says: "not_known" }], [1900, undefined, { says: "not_known" }],
  [0, 1820, { says: "not_known" }],
] as const)("a borescope of %s mm in a channel of %s mm: %o", (borescope, channel, says) => {
  expect(reachIn(borescope, channel)).toEqual(says);
});

test("what is not on record is not known, and never room", () => {
  for (const [outer, inner] of [[undefined, 2800], [1900, undefined], [0, 2800], [1900, 0]] as const) expect(roomIn(outer, inner)).toEqual({ says: "not_known" });
});

test("equal widths do not go in, and room never adds up to more than the channel", () => {
  fc.assert(fc.property(fc.integer({ min: 1, max: 20000 }), fc.integer({ min: 1, max: 20000 }), (outer, inner) => {
    const room = roomIn(outer, inner);
    expect(room.says === "no_fit").toBe(outer >= inner);
    if (room.says === "room" || room.says === "tight") expect(outer + 2 * room.eachSideUm).toBeLessThanOrEqual(inner);
  }));
});

test("a look that ended before the outlet leaves the rest unseen", () => {
  expect(unseen(840, 1820)).toEqual({ fromMm: 840, toMm: 1820 });
  expect(unseen(1820, 1820)).toBeUndefined();
  expect(unseen(840, undefined)).toBeUndefined();
});
