/** Where scopes stand in their cycle, as known here: what the cards carry and what this tablet wrote since. */
import type { OwnStep, OwnSteps } from "../record/steps";
import { ownSteps, serverNow } from "../record/steps";
import { settings } from "../record/setting";
import { read } from "../record/store";
import { type CycleEvent, type Stand, STEPS, standOf } from "../rules/cycle";
import type { RepairLook } from "../rules/repair";
import type { CycleCard } from "./rows";

export interface ScopeStand {
  readonly scope: string;
  readonly stand: Stand;
  /** All that is known of it here, in no order. */
  readonly events: readonly CycleEvent[];
}

/** Where all scopes stand that anything is known of, and the steps that are recorded here at all. */
export interface Stands {
  readonly stands: readonly ScopeStand[];
  /** Steps that this facility recorded of late: only these are waited for. */
  readonly recorded: ReadonlySet<string>;
  /** Where scopes hung or went, and the machines they were in, each once, the newest first. */
  readonly places: readonly string[];
  readonly machines: readonly string[];
  /** By the server's clock, as far as it is known here. */
  readonly nowMs: number;
}

export async function standsHere(without?: string): Promise<Stands> {
  const [cards, all, nowMs] = await Promise.all([carried(), ownSteps(), serverNow(settings().now().getTime())]);
  const own = leftOut(all, without);
  const events = new Map(cards.map(({ scope, events: known }) => [scope, known]));
  for (const { scope } of own.live) if (!events.has(scope)) events.set(scope, []);
  const merged = [...events].map(([scope, known]) => ({ scope, events: together(scope, known, own) }));
  const everything = merged.flatMap(({ events: known }) => known);
  return {
    stands: merged.map(({ scope, events: known }) => ({ scope, stand: standOf(known, nowMs), events: known })),
    recorded: recordedIn(everything),
    places: newest(everything.filter(({ what }) => what === "hung" || what === "taken"), ({ place }) => place),
    machines: newest(everything, ({ machine }) => machine),
    nowMs,
  };
}

/** The same of one scope; `without` an inspection part of this tablet that is in hand. */
export async function standOfScope(scope: string, without?: string): Promise<ScopeStand & Pick<Stands, "recorded" | "nowMs">> {
  const { stands, recorded, nowMs } = await standsHere(without);
  const found = stands.find((each) => each.scope === scope);
  return { scope, stand: found?.stand ?? standOf([], nowMs), events: found?.events ?? [], recorded, nowMs };
}

/** The acceptances and processings that are known here: of one scope, or per scope of all. */
export async function looksHere(scope?: string): Promise<ReadonlyMap<string, readonly RepairLook[]>> {
  const [cards, own] = await Promise.all([scope === undefined ? carried() : carriedOf(scope), ownSteps(scope)]);
  const events = new Map(cards.map((card) => [card.scope, card.events]));
  for (const { scope: each } of own.live) if (!events.has(each)) events.set(each, []);
  return new Map([...events].map(([each, known]) => [each, together(each, known, own).flatMap(lookOf)]));
}

function lookOf({ entry, what, at_ms, goes }: CycleEvent): readonly RepairLook[] {
  return what === "acceptance" || what === "processed" ? [{ entry, what, at_ms, goes: goes ?? "" }] : [];
}

async function carriedOf(scope: string): Promise<readonly CycleCard[]> {
  const row = await read(["cards"], (tx) => tx.objectStore("cards").get(["cycle", scope]));
  return row === undefined ? [] : [row.row as CycleCard];
}

/** As if this inspection part were not concluded: what is asked while it is in hand. */
function leftOut(own: OwnSteps, thread: string | undefined): OwnSteps {
  const out = own.live.filter((step) => step.thread === thread).map(({ hash }) => hash);
  return { live: own.live.filter((step) => step.thread !== thread), gone: new Set([...own.gone, ...out]) };
}

async function carried(): Promise<readonly CycleCard[]> {
  const rows = await read(["cards"], (tx) => tx.objectStore("cards").getAll(IDBKeyRange.bound(["cycle"], ["cycle", []])));
  return rows.map((row) => row.row as CycleCard);
}

/** An entry is one event, told by the card or by this tablet; what was taken back here is gone at once. */
function together(scope: string, known: readonly CycleEvent[], own: OwnSteps): readonly CycleEvent[] {
  const mine = own.live.filter((step) => step.scope === scope).flatMap(eventOf);
  const here = new Set(mine.map(({ entry }) => entry));
  return [...known.filter(({ entry }) => !here.has(entry) && !own.gone.has(entry)), ...mine];
}

function eventOf({ hash, kind, chain, seq, ms, body, begun }: OwnStep): readonly CycleEvent[] {
  const at = { entry: hash, at_ms: ms, chain, seq };
  if (kind === "inspection.concluded") {
    if (begun === undefined || begun["practice"] === true) return [];
    return [{ ...at, what: String(begun["point"]), first: text(body["first"]), goes: text(body["goes"]) }];
  }
  return [{
    ...at, what: kind.slice("scope.".length), place: text(body["place"]), procedure_end_ms: momentOf(body["procedure_end"]),
    cleaning_ms: momentOf(body["cleaning_begun"]), of: text(body["of"]), pre_clean: text(body["pre_clean"]),
    machine: text(body["machine"]), cycle: text(body["cycle"]),
  }];
}

const text = (value: unknown): string | undefined => (typeof value === "string" ? value : undefined);

function momentOf(value: unknown): number | undefined {
  const ms = typeof value === "string" ? Date.parse(value) : Number.NaN;
  return Number.isNaN(ms) ? undefined : ms;
}

/** Words for buttons: what was said last is said again most often. */
const MOST_NAMED = 6;

function newest(events: readonly CycleEvent[], of: (event: CycleEvent) => string | null | undefined): readonly string[] {
  const said = [...events].sort((a, b) => b.at_ms - a.at_ms).map(of).filter((each) => each != null && each !== "");
  return [...new Set(said as string[])].slice(0, MOST_NAMED);
}

function recordedIn(events: readonly CycleEvent[]): ReadonlySet<string> {
  return new Set(events.map(({ what }) => what).filter((what) => (STEPS as readonly string[]).includes(what)));
}
