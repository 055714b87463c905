/** The facility's own words as they are typed: shifts, places, time zone, and what still keeps them from being kept. */
import { say } from "./words";

export type Side = "dirty" | "clean" | "both";

/** HH:MM in the facility's own time. */
export interface ShiftWords {
  readonly name: string;
  readonly begins: string;
  readonly ends: string;
}

export interface PlaceWords {
  readonly name: string;
  readonly side: Side;
  readonly points: readonly string[];
}

export interface FacilityWords {
  readonly name: string;
  readonly zone: string;
  readonly shifts: readonly ShiftWords[];
  readonly places: readonly PlaceWords[];
}

export const POINTS = ["at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance"] as const;

/** The points of each side. Common practice, no source; a lead may choose others. */
export const OF_SIDE: Readonly<Record<Side, readonly string[]>> = {
  dirty: ["at_leak_test", "after_cleaning", "acceptance"], clean: ["after_drying", "before_use", "acceptance"], both: [...POINTS],
};

/** Offered at the start. Common practice, no source. */
export const USUAL_SHIFTS: readonly ShiftWords[] = [
  { name: say("start.shift_day"), begins: "07:00", ends: "15:00" }, { name: say("start.shift_evening"), begins: "15:00", ends: "23:00" },
  { name: say("start.shift_night"), begins: "23:00", ends: "07:00" },
];

/** Whether a shift ends on the day after it began. */
export const overMidnight = (shift: ShiftWords): boolean => shift.ends <= shift.begins;

/** The list without what is at one place, or with something else there; one place beyond the end adds. */
export const without = <T>(list: readonly T[], at: number): readonly T[] => list.filter((_, index) => index !== at);
export const changed = <T>(list: readonly T[], at: number, value: T): readonly T[] => [...list.slice(0, at), value, ...list.slice(at + 1)];

/** A time of day as it is typed: "7:00", "7.00", "700", "07h00" are 07:00; what is none stays as it is. */
export function hours(text: string): string {
  const found = /^([01]?\d|2[0-3])[:.h]?([0-5]\d)$/.exec(text.trim());
  return found === null ? text.trim() : `${(found[1] ?? "").padStart(2, "0")}:${found[2] ?? ""}`;
}

const same = (names: readonly string[]): boolean => new Set(names.map((name) => name.trim().toLowerCase())).size < names.length;
const TIME = /^([01]\d|2[0-3]):[0-5]\d$/;

/** Why the shifts cannot be kept yet; undefined when they can. */
export function waitShifts(shifts: readonly ShiftWords[]): string | undefined {
  if (shifts.length === 0) return say("start.wait_shift");
  if (shifts.some(({ name }) => name.trim() === "")) return say("start.wait_shift_name");
  if (shifts.some(({ name }) => name.includes("/"))) return say("start.wait_slash");
  if (same(shifts.map(({ name }) => name))) return say("start.wait_shift_twice");
  if (shifts.some(({ begins, ends }) => !TIME.test(begins) || !TIME.test(ends))) return say("start.wait_hours");
  return shifts.length > 1 && shifts.some(({ begins, ends }) => begins === ends) ? say("start.wait_no_hours") : undefined;
}

/** The same of places. */
export function waitPlaces(places: readonly PlaceWords[]): string | undefined {
  if (places.length === 0) return say("start.wait_place");
  if (places.some(({ name }) => name.trim() === "")) return say("start.wait_place_name");
  if (same(places.map(({ name }) => name))) return say("start.wait_place_twice");
  return places.some(({ points }) => points.length === 0) ? say("desk.wait_points") : undefined;
}

/** This device's own time zone, and all that it knows, in order. */
export const zoneHere = (): string => Intl.DateTimeFormat().resolvedOptions().timeZone || "UTC";
export const zones = (): readonly string[] => [...new Set(["UTC", zoneHere(), ...Intl.supportedValuesOf("timeZone")])].sort();

/** The words without blanks around names. */
export function trimmed(words: FacilityWords): FacilityWords {
  const tidy = <T extends { readonly name: string }>(row: T): T => ({ ...row, name: row.name.trim() });
  return { ...words, name: words.name.trim(), shifts: words.shifts.map(tidy), places: words.places.map(tidy) };
}
