/** Times as the facility has them. */
import { clockTime, shortDate } from "../parts/names";
import { inZone } from "../parts/zone";

export const timeOf = (moment: string | number, zone?: string): string => clockTime(moment, zone);

/** "14:02" where it was today in that zone, else "25 Nov 14:02". */
export function whenOf(moment: string | number, now: number, zone?: string): string {
  const time = clockTime(moment, zone);
  return dayOf(moment, zone) === dayOf(now, zone) ? time : `${shortDate(moment, new Date(now), zone)} ${time}`;
}

function dayOf(moment: string | number, zone: string | undefined): string {
  return new Intl.DateTimeFormat("en-CA", inZone(zone)).format(new Date(moment));
}
