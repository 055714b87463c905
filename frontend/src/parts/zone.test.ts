// capability: sink
import { afterEach, expect, test } from "vitest";
import { whenOf } from "../lead/times";
import { clockTime, shortDate } from "./names";
import { whenSaid } from "./stands";
import { showTimesIn } from "./zone";

/** IANA time zone database: Asia/Kathmandu is UTC+05:45, America/Lima UTC-05:00, both the year round. */
const LATE = Date.UTC(2026, 10, 27, 20, 30);
const NEW_YEAR = Date.UTC(2027, 0, 1, 2, 0);

afterEach(() => showTimesIn(undefined));

test("times and days are the facility's, whatever zone the browser has", () => {
  showTimesIn("Asia/Kathmandu");
  expect([clockTime(LATE), shortDate(LATE, new Date(LATE))]).toEqual(["02:15", "28 Nov"]);
  showTimesIn("America/Lima");
  expect([clockTime(LATE), shortDate(LATE, new Date(LATE))]).toEqual(["15:30", "27 Nov"]);
});

test("a day stands beside a time that is of another day there, a year beside a day of another year there", () => {
  showTimesIn("America/Lima");
  expect(whenSaid(LATE, LATE + 8 * 3_600_000)).toBe("15:30");
  expect(whenSaid(LATE, LATE + 9 * 3_600_000)).toBe("27 Nov 15:30");
  expect(shortDate(NEW_YEAR, new Date(LATE))).toBe("31 Dec");
  showTimesIn("Asia/Kathmandu");
  expect(shortDate(NEW_YEAR, new Date(LATE))).toBe("1 Jan 2027");
});

test("a zone that is named goes before the facility's", () => {
  showTimesIn("Asia/Kathmandu");
  expect([clockTime(LATE, "UTC"), shortDate(LATE, new Date(LATE), "UTC")]).toEqual(["20:30", "27 Nov"]);
  expect(whenOf(LATE, LATE + 9 * 3_600_000, "America/Lima")).toBe("27 Nov 15:30");
});
