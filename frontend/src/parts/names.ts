/** Names and short sentences made from data: parts, scopes, dates. Every sentence is a key of the words. */
import { named, opening } from "./naming";
import { isKey, say } from "./words";
import { inZone } from "./zone";
import type { LinePart, LineZone, MarksById, ShownMark } from "./types";
import type { Catalogue } from "../rules/chain-catalogue";
import type { ThreadState } from "../rules/chain-state";
import { ofKind } from "../rules/facts";
import type { MarksOfRoute, Route, RouteStop } from "../rules/route";

export { clockTime, named, opening } from "./naming";

export const partName = (id: string): string => named("part", id);

export function shortName(id: string): string {
  const key = `part.${id}.short`;
  return isKey(key) ? say(key) : opening(partName(id));
}

export function lineParts(stops: readonly RouteStop[]): readonly LinePart[] {
  return stops.map((stop) => ({
    id: stop.id, name: partName(stop.id), short: shortName(stop.id),
    shape: stop.shape, zone: stop.zone,
  }));
}

export function lineZones(route: Route): readonly LineZone[] {
  return route.kind.zones.map((id) => ({ id, name: named("zone", id) }));
}

/** The marks as they are drawn: a finding that takes the scope out of use has its own shape. */
export function shownMarks(marks: MarksOfRoute, thread: ThreadState, catalogue: Catalogue): MarksById {
  const stops = new Set(
    ofKind(thread, "finding.recorded")
      .filter((live) => catalogue.findings[String(live.body["finding"])]?.urgency === "stop")
      .map((live) => String(live.body["part"])),
  );
  return Object.fromEntries(
    Object.entries(marks).map(([id, mark]): [string, ShownMark] => [id, mark === "finding" && stops.has(id) ? "out_of_use" : mark]),
  );
}

/** "25 Nov", with the year where it is not this one. */
export function shortDate(moment: string | number | Date, now: Date, zone?: string): string {
  const place = inZone(zone);
  const yearOf = (date: Date): string => new Intl.DateTimeFormat("en-GB", { year: "numeric", ...place }).format(date);
  const date = new Date(moment);
  const year = yearOf(date) === yearOf(now) ? {} : { year: "numeric" as const };
  return new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short", ...year, ...place }).format(date);
}
