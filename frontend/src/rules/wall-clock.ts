/** A time of day as it is read off a clock on the wall, and the moment it means. Pure. */

const MINUTE_MS = 60_000;
const BACK_MINUTES = 26 * 60;
/** The hour that is there twice when clocks go back; some zones move by half of it. */
const TWICE_MINUTES = [60, 30];

/**
 * The last moment up to now at which the wall showed this time: after midnight "23:50" is yesterday's. Where the
 * clocks went back and the time was there twice, it is the earlier one: the longer wait is the safer reading.
 * Undefined for what is no time, and for one that the last 26 hours did not have.
 *
 * @param digits four digits, "0958"
 * @param now ms UTC since 1970
 * @param zone IANA time zone of the facility
 */
export function lastTimeOf(digits: string, now: number, zone: string): number | undefined {
  const [, hours, minutes] = /^([01]\d|2[0-3])([0-5]\d)$/.exec(digits) ?? [];
  if (hours === undefined || minutes === undefined) return undefined;
  const shows = wallOf(zone);
  const wanted = `${hours}:${minutes}`;
  const start = Math.floor(now / MINUTE_MS) * MINUTE_MS;
  for (let back = 0; back <= BACK_MINUTES; back += 1) {
    const at = start - back * MINUTE_MS;
    if (shows(at) !== wanted) continue;
    const before = TWICE_MINUTES.map((apart) => at - apart * MINUTE_MS).find((each) => shows(each) === wanted);
    return before ?? at;
  }
  return undefined;
}

function wallOf(zone: string): (at: number) => string {
  const format = new Intl.DateTimeFormat("en-GB", { timeZone: zone, hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  return (at) => format.format(at);
}
