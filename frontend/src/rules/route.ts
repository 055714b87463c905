/**
 * The route of one inspection, from data: what is due, what each part's mark is, what may be marked
 * together, where the walk goes next. Pure; counts always add up to the parts and channels of the route.
 */
import type { Catalogue, CatalogueChannel, CatalogueItem, CatalogueKind, CataloguePart } from "./chain-catalogue";
import { markOf, type ThreadState } from "./chain-state";

/** The six marks; `not_looked` is the default and never a result. */
export type RouteMark = "not_looked" | "nothing_found" | "finding" | "could_not_look" | "not_due" | "none_here";

export interface RouteStop {
  readonly id: string;
  readonly code: string;
  readonly shape: string;
  readonly half: "outside" | "channels";
  /** Undefined for channels. */
  readonly zone: string | undefined;
  readonly alone: boolean;
  readonly lookFor: readonly string[];
  readonly reach: CatalogueChannel["reach"] | undefined;
  /** Channels whose look goes through this one. */
  readonly passedIn: readonly string[];
  /** What is said before it is looked at. */
  readonly caution: string | undefined;
}

export interface Route {
  readonly kind: CatalogueKind;
  readonly point: string;
  readonly stops: readonly RouteStop[];
  readonly zones: boolean;
  readonly needs: readonly string[];
  /** Functions to be tried at this point. */
  readonly checks: readonly string[];
  /** Before use: the things answered one by one; empty elsewhere. */
  readonly items: readonly CatalogueItem[];
  readonly noneHere: readonly string[];
  readonly notDue: readonly string[];
}

const stopOfPart = (part: CataloguePart): RouteStop => ({
  id: part.id, code: part.code, shape: part.shape, half: "outside", zone: part.zone, alone: part.alone,
  lookFor: part.look_for, reach: undefined, passedIn: [], caution: part.caution,
});
const stopOfChannel = (channel: CatalogueChannel): RouteStop => ({
  id: channel.id, code: channel.code, shape: "channel", half: "channels", zone: undefined, alone: true,
  lookFor: channel.look_for, reach: channel.reach, passedIn: channel.passed_in ?? [], caution: undefined,
});

/** Every part of a kind, on the route of a point or not: a leak test shows bubbles where they are. */
export function outsideOf(kind: CatalogueKind): readonly RouteStop[] {
  return kind.parts.map(stopOfPart);
}

/** After drying moisture is what is looked for before all else. */
function wetFirst(catalogue: Catalogue, ids: readonly string[]): readonly string[] {
  const wet = (id: string): boolean => catalogue.findings[id]?.class === "moisture";
  return [...ids.filter(wet), ...ids.filter((id) => !wet(id))];
}

/** The route of a scope kind at a point, tip to plug, then the channels. Undefined where the catalogue has none. */
export function routeOf(
  catalogue: Catalogue, scopeKind: string, point: string,
  noneHere: readonly string[] = [], notDue: readonly string[] = [],
): Route | undefined {
  const kind = catalogue.kinds[scopeKind];
  const what = kind?.points[point];
  if (kind === undefined || what === undefined) return undefined;
  const stops: readonly RouteStop[] = [
    ...kind.parts.filter((part) => what.parts.includes(part.id)).map(stopOfPart),
    ...kind.channels.filter((channel) => what.channels.includes(channel.id)).map(stopOfChannel),
  ].map((stop) => (point === "after_drying" ? { ...stop, lookFor: wetFirst(catalogue, stop.lookFor) } : stop));
  const onRoute = (id: string): boolean => stops.some((stop) => stop.id === id);
  return {
    kind, point, stops, zones: what.zones, needs: what.needs, checks: what.checks ?? [], items: what.items ?? [],
    noneHere: noneHere.filter(onRoute),
    notDue: notDue.filter((id) => onRoute(id) && !noneHere.includes(id)),
  };
}

/** The mark of one stop. What was marked counts even where it was not due; `elsewhere` are other stations' marks. */
export function stopMark(
  route: Route, state: ThreadState, id: string, elsewhere: Readonly<Record<string, RouteMark>> = {},
): RouteMark {
  const own = markOf(state, id);
  const other = elsewhere[id];
  if (own === "finding" || other === "finding") return "finding";
  if (own === "could_not_look" || other === "could_not_look") return "could_not_look";
  if (own === "nothing_found" || other === "nothing_found") return "nothing_found";
  if (route.noneHere.includes(id)) return "none_here";
  return route.notDue.includes(id) ? "not_due" : "not_looked";
}

export type MarksOfRoute = Readonly<Record<string, RouteMark>>;

export function marksOf(route: Route, state: ThreadState, elsewhere: Readonly<Record<string, RouteMark>> = {}): MarksOfRoute {
  return Object.fromEntries(route.stops.map((stop) => [stop.id, stopMark(route, state, stop.id, elsewhere)]));
}

export type SixCounts = Readonly<Record<RouteMark, number>>;

/** How many stops carry each mark; the six add up to `route.stops.length`. */
export function countMarks(marks: MarksOfRoute): SixCounts {
  const counts = { not_looked: 0, nothing_found: 0, finding: 0, could_not_look: 0, not_due: 0, none_here: 0 };
  for (const mark of Object.values(marks)) counts[mark] += 1;
  return counts;
}

/** The stops not looked at yet, in route order. Not due and none are never left. */
export function leftOf(route: Route, marks: MarksOfRoute, half?: RouteStop["half"]): readonly RouteStop[] {
  return route.stops.filter((stop) => marks[stop.id] === "not_looked" && (half === undefined || stop.half === half));
}

/** At acceptance ports come first: ICHE 2012, two scopes came back from repair with loose biopsy ports. */
const PORT = "port";

/** Where the walk goes after `from`: the next stop not looked at, round the end once; undefined = none is left. */
export function nextStop(route: Route, marks: MarksOfRoute, from?: string): RouteStop | undefined {
  const left = leftOf(route, marks);
  const port = route.point === "acceptance" ? left.find(({ shape }) => shape === PORT) : undefined;
  if (port !== undefined) return port;
  const at = route.stops.findIndex((stop) => stop.id === from);
  return left.find((stop) => route.stops.indexOf(stop) > at) ?? left[0];
}

/** What the zone button offers at a stop: the parts it would mark, or why it may not; undefined = no zone here. */
export type ZoneOffer =
  | { readonly zone: string; readonly parts: readonly string[] }
  | { readonly zone: string; readonly refused: "zone_has_photo" | "zone_has_finding" | "zone_elsewhere" };

/**
 * A zone may be marked together where the point allows it, and nothing in it was photographed or found. Where another
 * tablet marked a part of it, the rest is no whole zone in this tablet's part of the inspection, and what was marked
 * there was not looked at here.
 */
export function zoneOffer(route: Route, state: ThreadState, marks: MarksOfRoute, id: string): ZoneOffer | undefined {
  const stop = route.stops.find((each) => each.id === id);
  if (stop === undefined || stop.zone === undefined || stop.alone || !route.zones) return undefined;
  const whole = route.stops.filter((each) => each.zone === stop.zone);
  const parts = whole.filter((each) => !each.alone && marks[each.id] === "not_looked").map((each) => each.id);
  if (!parts.includes(id) || parts.length < 2) return undefined;
  if (whole.some((each) => marks[each.id] === "finding")) return { zone: stop.zone, refused: "zone_has_finding" };
  if (whole.some((each) => (state.photos[each.id] ?? []).length > 0)) return { zone: stop.zone, refused: "zone_has_photo" };
  const elsewhere = whole.some((each) => !each.alone && marks[each.id] !== "not_looked" && (state.marks[each.id] ?? []).length === 0);
  return elsewhere ? { zone: stop.zone, refused: "zone_elsewhere" } : { zone: stop.zone, parts };
}

/** The functions of this point that no reading names yet, in the order of the catalogue. */
export function checksLeft(route: Route, state: ThreadState): readonly string[] {
  const tried = new Set(state.live.filter((live) => live.kind === "reading.taken").map((live) => live.body["what"]));
  return route.checks.filter((check) => !tried.has(check));
}

/** How far a thing before use has come: every part of it marked, or its function tried. */
export function itemDone(item: CatalogueItem, route: Route, state: ThreadState, marks: MarksOfRoute): boolean {
  if (item.check !== undefined && checksLeft(route, state).includes(item.check)) return false;
  return (item.parts ?? []).every((part) => marks[part] !== "not_looked");
}
