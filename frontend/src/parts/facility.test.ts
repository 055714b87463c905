// capability: breadth
import { expect, test } from "vitest";
import { changed, hours, overMidnight, type PlaceWords, type ShiftWords, trimmed, waitPlaces, waitShifts, without, zones } from "./facility";

const day: ShiftWords = { name: "day", begins: "07:00", ends: "19:00" };
const night: ShiftWords = { name: "night", begins: "19:00", ends: "07:00" };
const sink: PlaceWords = { name: "Decontamination", side: "dirty", points: ["at_leak_test"] };

test("a shift that ends at or before it begins crosses midnight", () => {
  expect([day, night, { ...day, ends: "07:00" }].map(overMidnight)).toEqual([false, true, true]);
});

test("a time of day is read however it is typed", () => {
  expect(["7:00", "07.00", "700", "2359", "23h30", " 15:00 ", "24:00", "7", "noon", "7:60"].map(hours)).toEqual(
    ["07:00", "07:00", "07:00", "23:59", "23:30", "15:00", "24:00", "7", "noon", "7:60"],
  );
});

test("shifts that fit together can be kept; each that does not says why", () => {
  expect(waitShifts([day, night])).toBeUndefined();
  expect(waitShifts([{ ...day, ends: "07:00" }]), "one shift for the whole day").toBeUndefined();
  const wrong = [[], [{ ...day, name: " " }], [{ ...day, name: "a/b" }], [day, { ...night, name: "DAY " }], [{ ...day, begins: "25:00" }], [day, { ...night, ends: "19:00" }]];
  const told = wrong.map(waitShifts);
  expect(told.every((words) => typeof words === "string" && !words.includes("."))).toBe(true);
  expect(new Set(told).size).toBe(wrong.length);
});

test("places that fit together can be kept; each that does not says why", () => {
  expect(waitPlaces([sink, { ...sink, name: "Store" }])).toBeUndefined();
  const told = [[], [{ ...sink, name: "" }], [sink, { ...sink, name: " decontamination" }], [{ ...sink, points: [] }]].map(waitPlaces);
  expect(new Set(told).size).toBe(4);
  expect(told).not.toContain(undefined);
});

test("lists are changed at one place, and names are sent without blanks around them", () => {
  expect(without(["a", "b", "c"], 1)).toEqual(["a", "c"]);
  expect(changed(["a", "b"], 0, "c")).toEqual(["c", "b"]);
  expect(changed(["a"], 1, "b")).toEqual(["a", "b"]);
  expect(trimmed({ name: " H ", zone: "UTC", shifts: [{ ...day, name: "day " }], places: [] })).toEqual({ name: "H", zone: "UTC", shifts: [day], places: [] });
});

test("the zones have UTC and no name twice", () => {
  expect(zones()).toContain("UTC");
  expect(new Set(zones()).size).toBe(zones().length);
});
