/** What waits at this place, what is due, and what waits on the other side, in sentences: from what is known here. */
import { frequencyNow, policyNow, scopeByKey, scopesNear, toolsKnown, type ScopeCard, type StationCard } from "../cards";
import { standsHere, type ScopeStand } from "../cards/cycle";
import type { IconName } from "../parts/icons";
import { longSaid, nextLimit, oversOf, whenSaid } from "../parts/stands";
import { say, type Key } from "../parts/words";
import { minutesOf, spansOf, type Stand } from "../rules/cycle";
import { type Frequency, lookDue } from "../rules/frequency";
import { type Act, waitsFor } from "../rules/next";
import type { Policy } from "../rules/policy";

export interface WorkRow {
  readonly scope: string;
  readonly note: string;
  readonly icon: IconName;
  /** The other side's work: where to go; undefined = it waits here. */
  readonly side: "dirty" | "clean" | undefined;
}

export interface Work {
  readonly waiting: readonly WorkRow[];
  /** Past a limit: what needs processing, or the maker's steps for a delay. */
  readonly over: readonly WorkRow[];
  /** The scopes whose look is due by the facility's frequency, in words. */
  readonly looks: string | undefined;
  /** Borescopes of this place that owe processing. */
  readonly tools: readonly string[];
}
export const NO_WORK: Work = { waiting: [], over: [], looks: undefined, tools: [] };

/** Names that are written out; the rest is counted. */
const MOST_NAMED = 4;

export async function workHere(station: StationCard | undefined): Promise<Work> {
  const [{ stands, recorded, nowMs }, policy, frequency] = await Promise.all([standsHere(), policyNow(), frequencyNow()]);
  const over: WorkRow[] = [];
  const waiting: WorkRow[] = [];
  for (const { scope, stand } of oldestFirst(stands)) {
    const late = policy === undefined ? undefined : await lateRow(scope, stand, policy.value, nowMs);
    if (late !== undefined) over.push(late);
    const waits = waitsFor(stand, recorded, nowMs);
    if (waits === undefined || late !== undefined) continue;
    const away = station !== undefined && station.side !== "both" && station.side !== waits.side;
    waiting.push({ scope, note: noteOf(stand, policy?.value, nowMs), icon: iconOf(stand, waits.act), side: away ? waits.side : undefined });
  }
  const looks = station?.points.includes("after_cleaning") === true && frequency !== undefined ? await looksDue(frequency.value, nowMs) : undefined;
  const tools = (await toolsKnown(station?.place)).filter(({ owes, place }) => owes && (station === undefined || place === station.place)).map(({ tool }) => tool);
  return { waiting, over, looks, tools };
}

const oldestFirst = (stands: readonly ScopeStand[]): readonly ScopeStand[] => [...stands].sort((a, b) => a.stand.since_ms - b.stand.since_ms);

/** The row of a scope that is past a limit: the one that asks for most, else the first. */
async function lateRow(scope: string, stand: Stand, policy: Policy, nowMs: number): Promise<WorkRow | undefined> {
  if (spansOf(stand).length === 0) return undefined;
  const overs = oversOf(policy, stand, (await scopeByKey(scope))?.scope_kind ?? "", nowMs)
    .filter(({ span }) => span.span !== "delay" || span.to_ms === undefined);
  const over = overs.find(({ first }) => first === "whole") ?? overs[0];
  if (over === undefined) return undefined;
  const time = whenSaid(over.span.from_ms, nowMs);
  const note = over.fromMs === undefined ? say("home.over.unknown") : say(`home.over.${over.span.span}`, { time });
  return { scope, note, icon: over.first === "whole" ? "first_whole" : "first_clean", side: undefined };
}

function noteOf(stand: Stand, policy: Policy | undefined, nowMs: number): string {
  const time = whenSaid(stand.since_ms, nowMs);
  const first = stand.last?.first ?? "nothing";
  if (first !== "nothing") return say(`home.first_${first}` as Key, { time });
  if (stand.phase === "received" && stand.delay !== undefined) {
    return say("home.received", { time, for: longSaid(minutesOf(stand.delay, nowMs) ?? 0) });
  }
  const note = say(`home.${stand.phase}` as Key, { time });
  const from = policy === undefined || stand.out_ms === undefined ? undefined : outFrom(policy, stand);
  return from === undefined ? note : say("home.due_from", { note, time: whenSaid(from, nowMs) });
}

function outFrom(policy: Policy, stand: Stand): number | undefined {
  const span = spansOf(stand).find((each) => each.span === "out");
  const limit = span === undefined ? undefined : nextLimit(policy, span, "", stand.last?.place ?? "");
  return span === undefined || limit === undefined ? undefined : span.from_ms + limit * 60_000;
}

function iconOf(stand: Stand, act: Act): IconName {
  const first = stand.last?.first;
  if (first === "clean" || first === "dry" || first === "whole") return `first_${first}`;
  if (act.do === "inspect") return "begin";
  return act.step === "hung" ? "goes_hang" : "scan";
}

async function looksDue(frequency: Frequency, nowMs: number): Promise<string | undefined> {
  const names = (await scopesNear()).filter((card) => lookDue(frequency, lookedOf(card), nowMs)).map((card) => card.tag ?? card.serial).sort();
  if (names.length === 0) return undefined;
  const shown = names.slice(0, MOST_NAMED).join(", ");
  return names.length > MOST_NAMED ? say("home.and_more", { names: shown, count: names.length - MOST_NAMED }) : shown;
}

function lookedOf(card: ScopeCard): { readonly scopeKind: string; readonly looked: ReadonlyMap<string, number> } {
  const looked = (card.parts ?? []).flatMap((part) => (part.looked_ms == null ? [] : [[part.part, part.looked_ms] as const]));
  return { scopeKind: card.scope_kind, looked: new Map(looked) };
}
