/**
 * A shift is a name: place / local date of its start / name. It is set when an inspection begins, also without
 * a network; its twin is `backend/loupebook/shifts/names.py`, and shared/vectors/shifts.json holds both.
 */

/** One shift of the day in the facility's own time, HH:MM; one that ends at or before it begins runs over midnight. */
export interface Hours {
  readonly name: string;
  readonly begins: string;
  readonly ends: string;
}

const DAY_MS = 86_400_000;

/**
 * The name of the shift that runs at a place at a moment, or undefined without hours. In a gap it is the one
 * that began last, and where they overlap too. The clock on the facility's wall decides, so a night with a
 * changed hour is one shift.
 */
export function shiftOf(place: string, moment: Date, hours: readonly Hours[], zone: string): string | undefined {
  const now = wallClock(moment, zone);
  const today = now.slice(0, 10);
  const yesterday = new Date(Date.parse(`${today}T00:00:00Z`) - DAY_MS).toISOString().slice(0, 10);
  const begun = [today, yesterday]
    .flatMap((date) => hours.map(({ name, begins }) => ({ start: `${date}T${begins}`, date, name })))
    .filter(({ start }) => start <= now)
    .sort((a, b) => (a.start < b.start ? 1 : a.start > b.start ? -1 : 0));
  const last = begun[0];
  return last === undefined ? undefined : `${place}/${last.date}/${last.name}`;
}

/** The local date and time as text that sorts: "2025-11-25T06:29:59". */
function wallClock(moment: Date, zone: string): string {
  const parts = new Intl.DateTimeFormat("en-CA", {
    timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23",
  }).formatToParts(moment);
  const part = (type: Intl.DateTimeFormatPartTypes): string => parts.find((each) => each.type === type)?.value ?? "00";
  return `${part("year")}-${part("month")}-${part("day")}T${part("hour")}:${part("minute")}:${part("second")}`;
}
