// capability: breadth
import { expect, test } from "vitest";
import { lastTimeOf } from "./wall-clock";

/** Offsets and clock changes of the IANA time zone database, as the engine carries it. */
const said = (digits: string, now: string, zone = "UTC"): string | undefined => {
  const at = lastTimeOf(digits, Date.parse(now), zone);
  return at === undefined ? undefined : new Date(at).toISOString();
};

test.each([
  ["an hour ago", "0958", "2026-11-25T10:34:20Z", "UTC", "2026-11-25T09:58:00.000Z"],
  ["this very minute", "1034", "2026-11-25T10:34:20Z", "UTC", "2026-11-25T10:34:00.000Z"],
  ["a minute ahead is yesterday's", "1035", "2026-11-25T10:34:20Z", "UTC", "2026-11-24T10:35:00.000Z"],
  ["before midnight, said after it", "2350", "2026-11-26T00:20:00Z", "UTC", "2026-11-25T23:50:00.000Z"],
  ["by the facility's wall, not the tablet's", "0558", "2026-11-25T11:10:00Z", "America/New_York", "2026-11-25T10:58:00.000Z"],
  ["there twice when clocks go back: the earlier", "0130", "2026-11-01T07:10:00Z", "America/New_York", "2026-11-01T05:30:00.000Z"],
  ["there twice, half an hour apart", "0145", "2026-04-04T15:50:00Z", "Australia/Lord_Howe", "2026-04-04T14:45:00.000Z"],
  ["after the change only once", "0230", "2026-11-01T08:00:00Z", "America/New_York", "2026-11-01T07:30:00.000Z"],
])("%s", (_, digits, now, zone, expected) => expect(said(digits, now, zone)).toBe(expected));

test("a time that the night did not have is not made up", () => {
  // 29 March 2026, Europe: 01:59 is followed by 03:00. The last 02:30 was the day before, and the screen says so.
  expect(said("0230", "2026-03-29T02:10:00Z", "Europe/Berlin")).toBe("2026-03-28T01:30:00.000Z");
});

test.each(["", "958", "2460", "0960", "09:58", "ab12"])("%s is no time", (digits) => {
  expect(said(digits, "2026-11-25T10:34:00Z")).toBeUndefined();
});
