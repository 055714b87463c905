/** How an inspection begins: what was scanned, at which point it may be, what is due and what is not. */
import { catalogueNow, facilityNow, frequencyNow, policyNow, stations, thisStation, type OpenCard, type ScopeCard, type StationCard } from "../cards";
import type { InspectionBegun, Point } from "../record/kinds";
import { practising } from "../record/practice";
import { notDue, type Known } from "../rules/frequency";
import { shiftOf } from "../rules/shifts";

/** How the scope was named, kept from the scan to the first photo. */
export interface Beginning {
  readonly by: "camera" | "wedge" | "typed" | "list";
  readonly text?: string | undefined;
  readonly symbology?: string | undefined;
  readonly proves: "scope" | "tag";
  /** Set where another tablet's or person's inspection is gone on with. */
  readonly continues?: string | undefined;
  readonly point?: string | undefined;
  /** The point that was chosen, or that follows beyond doubt from the step `after`. */
  readonly at?: string | undefined;
  readonly after?: string | undefined;
}

export interface PointOffer {
  readonly points: readonly string[];
  readonly chosen: string | undefined;
  /** Why one is chosen already: nothing is chosen in doubt. */
  readonly why: "only_one" | "last_step" | "new_here" | "goes_on" | undefined;
  readonly after?: string | undefined;
}

const FOLLOWS: Readonly<Record<string, string>> = {
  at_leak_test: "after_cleaning", after_cleaning: "after_drying", after_drying: "before_use",
};
/** A step older than this says nothing of where the scope is now (common practice, no source). */
const SAME_CYCLE_MS = 12 * 3_600_000;
const ALL: readonly string[] = ["at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance"];

/** The newest inspection of the scope that another station began, and whether a scan here goes on with it unasked. */
export function begunElsewhere(
  open: readonly OpenCard[], station: StationCard | undefined, now: number = Date.now(),
): { readonly card: OpenCard; readonly at: string; readonly station: string | null; readonly joins: boolean } | undefined {
  const found = open.flatMap((card) => card.parts.slice(0, 1).map((part) => ({ card, at: part.at, station: part.station })));
  const newest = found.sort((a, b) => Date.parse(b.at) - Date.parse(a.at))[0];
  if (newest === undefined) return undefined;
  const here = (station?.points ?? ALL).includes(newest.card.point);
  return { ...newest, joins: here && now - Date.parse(newest.at) < SAME_CYCLE_MS };
}

/** Points that this station may look at, and the one that is beyond doubt. */
export function pointOffer(
  card: ScopeCard, station: StationCard | undefined, beginning: Beginning | undefined, now: number = Date.now(),
): PointOffer {
  const points = ALL.filter((each) => (station?.points ?? ALL).includes(each));
  if (beginning?.point !== undefined) return { points: [beginning.point], chosen: beginning.point, why: "goes_on" };
  if (neverAccepted(card)) return { points: ["acceptance"], chosen: "acceptance", why: "new_here" };
  const { at, after } = beginning ?? {};
  if (at !== undefined && points.includes(at)) return { points, chosen: at, why: after === undefined ? undefined : "last_step", after };
  const { last } = card;
  if (last != null && last.goes === "on" && now - Date.parse(last.at) < SAME_CYCLE_MS) {
    const next = FOLLOWS[last.point];
    if (next !== undefined && points.includes(next)) return { points, chosen: next, why: "last_step", after: last.point };
  }
  if (points.length === 1) return { points, chosen: points[0], why: "only_one" };
  return { points, chosen: undefined, why: undefined };
}

/** The body of `inspection.begun`. Raises NothingPinned where the tablet has no catalogue or policy yet. */
export async function beginBody(card: ScopeCard, point: string, beginning: Beginning | undefined, now: Date = new Date()): Promise<InspectionBegun> {
  const [catalogue, policy, frequency, shift] = await Promise.all([catalogueNow(), policyNow(), frequencyNow(), shiftNow(now)]);
  if (catalogue === undefined || policy === undefined) throw new NothingPinned();
  const { text, symbology, continues } = beginning ?? {};
  return {
    point: point as Point, scope_kind: card.scope_kind, catalogue: catalogue.sha256, policy: policy.sha256,
    shift,
    identified: {
      by: beginning?.by ?? "list", proves: beginning?.proves ?? "tag",
      ...(text === undefined ? {} : { text }), ...(symbology === undefined ? {} : { symbology }),
    },
    none_here: card.none_here ?? [], not_due: frequency === undefined ? [] : notDue(frequency.value, knownOf(card, point, now)),
    ...(continues === undefined ? {} : { continues }),
    ...(practising() === undefined ? {} : { practice: true }),
  };
}

/** The cards were never fetched: without a catalogue and a policy nothing can be begun. */
export class NothingPinned extends Error {
  override readonly name = "NothingPinned";
}

/** What the card knows of a scope, as the frequency table asks for it. */
function knownOf(card: ScopeCard, point: string, now: Date): Known {
  const looked = (card.parts ?? []).flatMap((part) => (part.looked_ms == null ? [] : [[part.part, part.looked_ms] as const]));
  return {
    scope: card.scope, scopeKind: card.scope_kind, point, now: now.getTime(),
    looked: new Map(looked), cycles: card.cycles_ms?.[point],
  };
}

/** Never described by the facility: new or on loan, and met on the spot. */
function neverAccepted(card: ScopeCard): boolean {
  return card.on_record === false && card.last?.point !== "acceptance";
}

/** The shift that runs at this station's place; without the facility's hours the place and the date alone. */
async function shiftNow(now: Date): Promise<string> {
  const [facility, here, all] = await Promise.all([facilityNow(), thisStation(), stations()]);
  const place = all.find((station) => station.station === here?.station)?.place ?? "";
  const named = facility === undefined ? undefined : shiftOf(place, now, facility.shifts, facility.zone);
  return named ?? `${place}/${now.toISOString().slice(0, 10)}/`;
}
