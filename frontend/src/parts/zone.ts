/** The zone that times are shown in: the facility's own, whatever the browser's clock is set to; the browser's until it is known. */
let facility: string | undefined;

export function showTimesIn(zone: string | undefined): void {
  facility = zone;
}

/** For a format: the zone given, else the facility's. */
export function inZone(zone: string | undefined = facility): { readonly timeZone?: string } {
  return zone === undefined ? {} : { timeZone: zone };
}
