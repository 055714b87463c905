/**
 * Where a scope stands in its cycle, and for how long: from the steps and looks that are known of it. Pure.
 * The same as `backend/loupebook/rules/cycle.py`; `shared/vectors/cycle.json` holds the two together. It is doubled
 * because the tablet prompts without a network, and the server raises open points from what all chains say.
 */
import type { Fact } from "./conditions";
import type { Policy } from "./policy";

export type Step = "received" | "processed" | "hung" | "taken";
export const STEPS: readonly Step[] = ["received", "processed", "hung", "taken"];
const POINTS: readonly string[] = ["at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance"];

/** The last thing that is known to have happened. `cleaning`: received, and its cleaning was begun. */
export type Phase =
  | "none" | "received" | "cleaning" | "at_leak_test" | "after_cleaning" | "processed" | "after_drying" | "hung" | "taken"
  | "before_use" | "acceptance";

/**
 * delay: from the end of the procedure (or the receipt) until cleaning is begun.
 * out: outside a cabinet, from the machine or from being taken out until it hangs or is given out for use.
 * hung: since it was first hung after its last processing; taking it out and hanging it back does not start anew.
 */
export type SpanName = "delay" | "out" | "hung";

/** One step, or one look that was concluded. Moments are ms UTC since 1970 by the server's clock as far as known. */
export interface CycleEvent {
  /** The hash it has for ever. */
  readonly entry: string;
  /** A step, or the point of the look. */
  readonly what: string;
  readonly at_ms: number;
  readonly chain: string;
  readonly seq: number;
  readonly place?: string | null | undefined;
  readonly first?: string | null | undefined;
  readonly goes?: string | null | undefined;
  readonly procedure_end_ms?: number | null | undefined;
  readonly cleaning_ms?: number | null | undefined;
  /** The receipt that a later word about it belongs to. */
  readonly of?: string | null | undefined;
  readonly pre_clean?: string | null | undefined;
  readonly machine?: string | null | undefined;
  readonly cycle?: string | null | undefined;
}

/** A time that a limit may be set for; it still runs where `to_ms` is not given. */
export interface Span {
  readonly span: SpanName;
  readonly from_ms: number;
  readonly to_ms: number | undefined;
}

/** Where the scope stands now. */
export interface Stand {
  readonly phase: Phase;
  readonly since_ms: number;
  readonly last: CycleEvent | undefined;
  /** The receipt of this cycle. */
  readonly received: CycleEvent | undefined;
  /** The processing that nothing known since has undone. */
  readonly disinfected: CycleEvent | undefined;
  readonly stored_ms: number | undefined;
  readonly out_ms: number | undefined;
  readonly delay: Span | undefined;
}

export const NOWHERE: Stand = {
  phase: "none", since_ms: 0, last: undefined, received: undefined, disinfected: undefined, stored_ms: undefined,
  out_ms: undefined, delay: undefined,
};
const UNDONE = { disinfected: undefined, stored_ms: undefined, out_ms: undefined } as const;
const MINUTE_MS = 60_000;

const order = (a: string | number, b: string | number): number => (a < b ? -1 : a > b ? 1 : 0);

/**
 * Events of several chains in the order they happened, as far as that can be told. Nothing happened later than
 * now, and of one chain nothing before what stands earlier in it: a clock that was wrong moves its own events
 * together and never turns them round. Equal moments go by chain and place in it.
 */
export function inOrder(events: readonly CycleEvent[], nowMs: number): readonly CycleEvent[] {
  const latest = new Map<string, number>();
  return [...events]
    .sort((a, b) => order(a.chain, b.chain) || a.seq - b.seq)
    .map((event) => {
      const before = Math.min(event.at_ms, nowMs);
      const at = Math.max(before, latest.get(event.chain) ?? before);
      latest.set(event.chain, at);
      return { ...event, at_ms: at };
    })
    .sort((a, b) => a.at_ms - b.at_ms || order(a.chain, b.chain) || a.seq - b.seq);
}

/** Where a scope stands after these events; each counted once, in whatever order they are given. */
export function standOf(events: readonly CycleEvent[], nowMs: number): Stand {
  const once = new Map(events.map((event) => [event.entry, event]));
  return inOrder([...once.values()], nowMs).reduce(after, NOWHERE);
}

function after(stand: Stand, event: CycleEvent): Stand {
  if (event.what === "received") return event.of == null ? received(event) : saidLater(stand, event);
  if (!STEPS.includes(event.what as Step) && !POINTS.includes(event.what)) return stand;
  const moved: Stand = { ...stand, phase: event.what as Phase, since_ms: event.at_ms, last: event };
  if (event.what === "processed") return { ...moved, disinfected: event, stored_ms: undefined, out_ms: event.at_ms, delay: undefined };
  if (event.what === "hung") return { ...moved, stored_ms: stand.stored_ms ?? event.at_ms, out_ms: undefined };
  if (event.what === "taken") return { ...moved, out_ms: event.at_ms };
  if (event.what === "after_drying" || event.what === "before_use") {
    const used = event.what === "before_use" && event.goes === "on" && event.first === "nothing";
    return used || event.first === "clean" || event.first === "whole" ? { ...moved, ...UNDONE } : moved;
  }
  const keeps = event.what === "at_leak_test" || stand.delay?.to_ms !== undefined;
  return { ...moved, ...UNDONE, delay: keeps ? stand.delay : undefined };
}

function received(event: CycleEvent): Stand {
  const begun = event.cleaning_ms ?? undefined;
  return {
    ...NOWHERE,
    phase: begun === undefined ? "received" : "cleaning",
    since_ms: begun ?? event.at_ms,
    last: event,
    received: event,
    delay: { span: "delay", from_ms: event.procedure_end_ms ?? event.at_ms, to_ms: begun },
  };
}

/** What was left out at the receipt; said of an older receipt it changes nothing. */
function saidLater(stand: Stand, event: CycleEvent): Stand {
  if (stand.received === undefined || event.of !== stand.received.entry || stand.delay === undefined) return stand;
  const begun = event.cleaning_ms ?? stand.delay.to_ms;
  const told: Stand = { ...stand, delay: { span: "delay", from_ms: event.procedure_end_ms ?? stand.delay.from_ms, to_ms: begun } };
  if (stand.phase !== "received" || begun === undefined) return told;
  return { ...told, phase: "cleaning", since_ms: begun, last: event };
}

/** The times that run or that a limit may still be asked of, in a fixed order. */
export function spansOf(stand: Stand): readonly Span[] {
  return [
    ...(stand.delay === undefined ? [] : [stand.delay]),
    ...(stand.out_ms === undefined ? [] : [{ span: "out" as const, from_ms: stand.out_ms, to_ms: undefined }]),
    ...(stand.stored_ms === undefined ? [] : [{ span: "hung" as const, from_ms: stand.stored_ms, to_ms: undefined }]),
  ];
}

/** Whole minutes that have gone by; undefined where a clock must be wrong, since they would be fewer than none. */
export function minutesOf(span: Span, nowMs: number): number | undefined {
  const gone = (span.to_ms ?? nowMs) - span.from_ms;
  return gone < 0 ? undefined : Math.floor(gone / MINUTE_MS);
}

/** One fact a span, as the policy table reads it; without `minutes` where they cannot be told. */
export function spanFacts(stand: Stand, scopeKind: string, nowMs: number): readonly Fact[] {
  return spansOf(stand).map((span) => {
    const minutes = minutesOf(span, nowMs);
    return {
      what: "span", span: span.span, scope_kind: scopeKind, place: stand.last?.place ?? "",
      ...(minutes === undefined ? {} : { minutes }),
    };
  });
}

/** The limit of a policy row in whole minutes, where it sets one for this span. */
export function limitOf(policy: Policy, row: string): number | undefined {
  const when = policy.rows.find((each) => each.id === row)?.when ?? [];
  const least = when.find((each) => each.field === "minutes");
  return least?.gte;
}
