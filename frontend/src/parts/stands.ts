/** Where a scope stands, in sentences: its steps, how long, and what the policy asks for. */
import { clockTime, named, opening } from "./naming";
import { shortDate } from "./names";
import { minutesOf, type Span, spansOf, type CycleEvent, type Stand, spanFacts, limitOf } from "../rules/cycle";
import { type Policy, suggest } from "../rules/policy";
import { type Key, say, sayMinutes } from "./words";

const HOUR = 60;
const DAY = 24 * HOUR;

/** "10:12", with the date where it is not today's. */
export function whenSaid(ms: number, nowMs: number, zone?: string): string {
  const time = clockTime(ms, zone);
  const [day, today] = [ms, nowMs].map((each) => shortDate(each, new Date(nowMs), zone));
  return day === today ? time : `${day} ${time}`;
}

/** Whole minutes: "18 min", "4 h 02", from two days on "6 d 3 h". */
export function longSaid(minutes: number): string {
  if (minutes >= 2 * DAY) return say("time.days_hours", { d: Math.floor(minutes / DAY), h: Math.floor((minutes % DAY) / HOUR) });
  return sayMinutes(minutes);
}

/** A limit as people name it: "60 min", "3 h", "7 d". */
export function limitSaid(minutes: number): string {
  if (minutes >= DAY && minutes % DAY === 0) return say("time.days", { d: minutes / DAY });
  if (minutes > HOUR && minutes % HOUR === 0) return say("time.hours", { h: minutes / HOUR });
  return sayMinutes(minutes);
}

/** The steps of this cycle that are known, the newest last. */
export function standSaid(stand: Stand, nowMs: number): readonly string[] {
  const at = (ms: number): string => whenSaid(ms, nowMs);
  const { received, disinfected, last, delay } = stand;
  const came = received === undefined ? [] : [
    say("stand.received", { time: at(received.at_ms), place: received.place ?? "" }),
    ...(received.procedure_end_ms == null ? [] : [say("stand.procedure_end", { time: at(received.procedure_end_ms) })]),
    say(`stand.pre_clean.${received.pre_clean ?? "unknown"}` as Key),
    ...(delay?.to_ms === undefined ? [] : [say("stand.cleaning", { time: at(delay.to_ms) })]),
  ];
  return [
    ...came,
    ...(disinfected === undefined ? [] : [processedSaid(disinfected, nowMs)]),
    ...(last === undefined || last.what === "received" || last.entry === disinfected?.entry ? [] : [lastSaid(last, nowMs)]),
  ];
}

/** "Processed 12:00, machine W-2, cycle 3107". */
export function processedSaid(event: CycleEvent, nowMs: number): string {
  const time = whenSaid(event.at_ms, nowMs);
  const { machine, cycle } = event;
  if (machine == null) return say("stand.processed", { time, place: event.place ?? "" });
  return cycle == null ? say("stand.processed_machine", { time, machine }) : say("stand.processed_cycle", { time, machine, cycle });
}

function lastSaid(event: CycleEvent, nowMs: number): string {
  const time = whenSaid(event.at_ms, nowMs);
  if (event.what === "processed") return processedSaid(event, nowMs);
  if (event.what === "hung" || event.what === "taken") return say(`stand.${event.what}`, { time, place: event.place ?? "" });
  const point = event.what;
  const first = event.first ?? "nothing";
  const said = first !== "nothing" ? say(`first.${first}` as Key) : event.goes === "on" ? say(`goes.on.${point}` as Key) : say(`goes.${event.goes ?? "hold"}` as Key);
  return say("stand.looked", { point: named("point", point), time, said: said.toLocaleLowerCase() });
}

/** A row that speaks of a time, in words with its source. */
export interface Over {
  readonly row: string;
  readonly span: Span;
  readonly words: string;
  readonly source: string;
  readonly first: string | undefined;
  /** When the limit was reached, ms; undefined where the time cannot be told. */
  readonly fromMs: number | undefined;
}

/** What the policy says of the times that run: suggestions, each with its row and source. */
export function oversOf(policy: Policy, stand: Stand, scopeKind: string, nowMs: number): readonly Over[] {
  const spans = spansOf(stand);
  return suggest(policy, spanFacts(stand, scopeKind, nowMs)).rows.flatMap(({ row, fact }) => {
    const found = policy.rows.find((each) => each.id === row);
    const span = spans[fact];
    if (found === undefined || span === undefined) return [];
    const limit = limitOf(policy, row);
    return [{
      row, span, words: opening(named("policy", row)), source: found.source, first: found.first,
      fromMs: limit === undefined ? undefined : span.from_ms + limit * 60_000,
    }];
  });
}

/** "Hung for 6 d 3 h, limit 7 d": the times that run, each with the first limit the policy sets for it. */
export function spansSaid(policy: Policy | undefined, stand: Stand, scopeKind: string, nowMs: number): readonly string[] {
  return spansOf(stand).map((span) => {
    const minutes = minutesOf(span, nowMs);
    if (minutes === undefined) return say(`span.${span.span}.unknown`);
    const limit = policy === undefined ? undefined : nextLimit(policy, span, scopeKind, stand.last?.place ?? "");
    const times = { for: longSaid(minutes) };
    return limit === undefined ? say(`span.${span.span}`, times) : say(`span.${span.span}.limit`, { ...times, limit: limitSaid(limit) });
  });
}

/** The shortest limit that holds for this span here, in minutes. */
export function nextLimit(policy: Policy, span: Span, scopeKind: string, place: string): number | undefined {
  const rows = policy.rows.filter((row) => row.when.some((each) => each.field === "minutes" && each.gte !== undefined));
  const limits = rows.flatMap((row) => {
    const limit = limitOf(policy, row.id) ?? 0;
    const fact = { what: "span", span: span.span, scope_kind: scopeKind, place, minutes: limit };
    return suggest({ ...policy, rows: [row] }, [fact]).rows.length > 0 ? [limit] : [];
  });
  return limits.length === 0 ? undefined : Math.min(...limits);
}
