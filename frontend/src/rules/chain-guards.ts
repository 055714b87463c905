/** The named guards of the chain rules. Each answers the reason it fails for, or undefined. */
import type { Catalogue, CatalogueKind, CataloguePart, CataloguePoint } from "./chain-catalogue";
import type { Fields, RuleEntry, ThreadState } from "./chain-state";

/** The pinned catalogue of a hash, or undefined. */
export type Pins = (sha256: string) => unknown;

/** What an inspection part is to be walked: kind and point of its begun entry, from its pinned catalogue. */
export interface Route {
  readonly kind: CatalogueKind;
  readonly point: CataloguePoint;
  readonly begun: Fields;
}

export function words(value: unknown): readonly string[] {
  return Array.isArray(value) ? value.filter((item): item is string => typeof item === "string") : [];
}

function text(value: unknown): string | undefined {
  return typeof value === "string" ? value : undefined;
}

/** The route of a thread, or undefined where the catalogue, the kind or the point is not known. */
export function routeOf(state: ThreadState, pins: Pins): Route | undefined {
  const begun = state.begun?.body;
  if (begun === undefined) return undefined;
  const catalogue = pins(String(begun["catalogue"])) as Catalogue | undefined;
  const kind = catalogue?.kinds[String(begun["scope_kind"])];
  const point = kind?.points[String(begun["point"])];
  return kind === undefined || point === undefined ? undefined : { kind, point, begun };
}

/** Parts and channels that are due: the point's route without what this scope has none of and what is not due today. */
export function due(route: Route): readonly string[] {
  const out = new Set([...words(route.begun["none_here"]), ...words(route.begun["not_due"])]);
  return [...route.point.parts, ...route.point.channels].filter((id) => !out.has(id));
}

/** The parts and channels an entry speaks of. */
export function partsOf(entry: Pick<RuleEntry, "body">): readonly string[] {
  const { body } = entry;
  return [...words(body["parts"]), ...[text(body["part"]), text(body["channel"])].filter((id) => id !== undefined)];
}

export function partsOnRoute(entry: RuleEntry, route: Route): string | undefined {
  const on = new Set([...route.point.parts, ...route.point.channels]);
  return partsOf(entry).every((id) => on.has(id)) ? undefined : "part_not_on_route";
}

/** Every part a test names is one of the scope, on the route of its point or not: it leaks where it leaks. */
export function partsOnScope(entry: RuleEntry, route: Route): string | undefined {
  const here = new Set([...route.kind.parts.map((part) => part.id), ...route.point.parts, ...route.point.channels]);
  return partsOf(entry).every((id) => here.has(id)) ? undefined : "part_not_on_route";
}

/** The parts of a zone that may be marked with it. */
export function zoneParts(route: Route, zone: string): readonly CataloguePart[] {
  const dueNow = new Set(due(route));
  return route.kind.parts.filter((part) => part.zone === zone && !part.alone && dueNow.has(part.id));
}

export function zoneAllowed(entry: RuleEntry, route: Route, state: ThreadState): string | undefined {
  const zone = text(entry.body["zone"]);
  const named = new Set(words(entry.body["parts"]));
  // Several parts found without fault in one tap are a zone, said or not; so they must name it.
  if (zone === undefined) return named.size > 1 && entry.body["mark"] === "nothing_found" ? "zone_not_allowed" : undefined;
  const whole = zoneParts(route, zone);
  const fits =
    entry.body["mark"] === "nothing_found" &&
    route.point.zones &&
    [...named].every((id) => whole.some((part) => part.id === id)) &&
    whole.every((part) => named.has(part.id) || (state.marks[part.id] ?? []).length > 0);
  if (!fits) return "zone_not_allowed";
  const seen = route.kind.parts.some((part) => part.zone === zone && (state.photos[part.id] ?? []).length > 0);
  return seen ? "zone_has_photo" : undefined;
}

/** What is due and has no mark in this part. */
export function notLooked(route: Route, state: ThreadState): readonly string[] {
  return due(route).filter((id) => (state.marks[id] ?? []).length === 0);
}

/** The due parts that keep an inspection from being concluded like this. */
export function uncovered(body: Fields, route: Route, state: ThreadState): readonly string[] {
  const missing = notLooked(route, state);
  if (body["goes"] !== "on") {
    const left = new Set(
      (Array.isArray(body["left"]) ? body["left"] : []).map((item: unknown) => String((item as Fields)["part"])),
    );
    return missing.filter((id) => !left.has(id));
  }
  const elsewhere = new Set(words(body["relies"]).length > 0 ? words(body["elsewhere"]) : []);
  return missing.filter((id) => !elsewhere.has(id));
}

export function routeCovered(entry: RuleEntry, route: Route, state: ThreadState): string | undefined {
  return uncovered(entry.body, route, state).length === 0 ? undefined : "route_not_covered";
}
