/**
 * What may come next for a scope at this place, the likeliest first, and what waits where. Pure. Nothing is sure but
 * what follows without a choice from a step of the same cycle; a person decides the rest.
 */
import type { Stand, Step } from "./cycle";

/** `cleaning`: the word that cleaning begins, said of a receipt. */
export type Act =
  | { readonly do: "inspect"; readonly point: string }
  | { readonly do: "step"; readonly step: Step | "cleaning" };

export type Side = "dirty" | "clean" | "both";

/** A step older than this says nothing of where the scope is now, unless it hangs (common practice, no source). */
export const SAME_CYCLE_MS = 12 * 3_600_000;

const look = (point: string): Act => ({ do: "inspect", point });
const step = (name: Step | "cleaning"): Act => ({ do: "step", step: name });

const IN_ORDER: readonly Act[] = [
  step("received"), step("cleaning"), look("at_leak_test"), look("after_cleaning"), step("processed"), look("after_drying"),
  step("hung"), step("taken"), look("before_use"), look("acceptance"),
];
const SIDE_OF: Readonly<Record<string, "dirty" | "clean">> = {
  received: "dirty", cleaning: "dirty", processed: "clean", hung: "clean", taken: "clean",
  at_leak_test: "dirty", after_cleaning: "dirty", after_drying: "clean", before_use: "clean", acceptance: "dirty",
};

export const nameOf = (act: Act): string => (act.do === "inspect" ? act.point : act.step);

/** What most often follows, the likeliest first. */
export function follows(stand: Stand): readonly Act[] {
  const { phase, last } = stand;
  if (last?.first === "clean" || last?.first === "whole") return [look("after_cleaning"), step("received"), step("cleaning")];
  const open = stand.received !== undefined && stand.delay?.to_ms === undefined;
  switch (phase) {
    case "none": return [];
    case "received": return [step("cleaning"), look("at_leak_test"), look("after_cleaning")];
    case "cleaning": return [look("at_leak_test"), look("after_cleaning")];
    case "at_leak_test": return open ? [look("after_cleaning"), step("cleaning")] : [look("after_cleaning")];
    case "after_cleaning": return [step("processed"), look("after_drying")];
    case "processed": return [look("after_drying"), step("hung")];
    case "after_drying": return last?.first === "dry" ? [look("after_drying")] : [step("hung"), look("before_use")];
    case "hung": return [step("taken"), look("before_use")];
    case "taken": return [look("before_use"), step("hung")];
    case "before_use": return last?.goes === "on" ? [step("received"), look("at_leak_test")] : [look("before_use"), step("hung")];
    case "acceptance": return [look("at_leak_test"), look("after_cleaning"), step("processed")];
  }
}

/** What a station can do: its points, and the steps of its side. */
export interface Here {
  readonly side: Side;
  readonly points: readonly string[];
}

function isHere(act: Act, here: Here): boolean {
  return act.do === "inspect" ? here.points.includes(act.point) : here.side === "both" || SIDE_OF[act.step] === here.side;
}

export interface Offer {
  /** Everything that this station can do with the scope, the likeliest first. */
  readonly acts: readonly Act[];
  /** How many of them follow from the last step. */
  readonly likely: number;
  /** The one beyond doubt. */
  readonly sure: Act | undefined;
}

/** What is offered after a scan. `recorded`: the steps that this facility records at all. */
export function offerOf(stand: Stand, here: Here, recorded: ReadonlySet<string>, nowMs: number): Offer {
  const fresh = nowMs - stand.since_ms < SAME_CYCLE_MS || stand.phase === "hung";
  const likely = fresh ? follows(stand).filter((act) => isHere(act, here)) : [];
  const rest = IN_ORDER.filter((act) => isHere(act, here) && !likely.some((each) => nameOf(each) === nameOf(act)));
  const acts = [...likely, ...rest].filter((act) => nameOf(act) !== "cleaning" || stand.phase === "received" || isOpen(stand));
  const only = acts.length === 1 ? acts[0] : undefined;
  return { acts, likely: likely.filter((act) => acts.includes(act)).length, sure: only ?? sureOf(stand, likely, recorded) };
}

const isOpen = (stand: Stand): boolean => stand.phase === "at_leak_test" && stand.received !== undefined && stand.delay?.to_ms === undefined;

/**
 * A look that let the scope go on is followed by the next look, where no step stands between, or where this facility
 * records no steps. All else is a choice: a scope that was received may be leak-tested or not, one that hangs may hang on.
 */
function sureOf(stand: Stand, likely: readonly Act[], recorded: ReadonlySet<string>): Act | undefined {
  if (stand.last?.goes !== "on" || stand.last.first !== "nothing") return undefined;
  const next: Readonly<Record<string, string>> = { at_leak_test: "after_cleaning", after_cleaning: "after_drying", after_drying: "before_use" };
  const point = next[stand.phase];
  if (point === undefined || (stand.phase !== "at_leak_test" && recorded.size > 0)) return undefined;
  return likely.find((act) => act.do === "inspect" && act.point === point);
}

/** What a scope waits for, and on which side; undefined where it rests, is in use, or a lead has it. */
export function waitsFor(stand: Stand, recorded: ReadonlySet<string>, nowMs: number): { readonly act: Act; readonly side: "dirty" | "clean" } | undefined {
  if (nowMs - stand.since_ms >= SAME_CYCLE_MS || stand.phase === "hung") return undefined;
  const { last } = stand;
  if (stand.phase === "before_use" && (last?.first === "nothing" || last?.first === undefined)) return undefined;
  if (last?.goes !== undefined && last.goes !== null && last.goes !== "on" && last.first === "nothing") return undefined;
  const act = follows(stand).find((each) => each.do === "inspect" || each.step === "cleaning" || recorded.has(each.step));
  return act === undefined ? undefined : { act, side: SIDE_OF[nameOf(act)] ?? "dirty" };
}
