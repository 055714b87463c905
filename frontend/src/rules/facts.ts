/** The facts of one inspection as the policy table reads them: one a finding, one a test or function tried, one a run through a channel, one a value measured, one for the whole. */
import type { Catalogue } from "./chain-catalogue";
import type { Fields, Live, ThreadState } from "./chain-state";
import { levelOf, type Limit } from "./limits";
import type { SixCounts } from "./route";

export interface Context {
  readonly scopeKind: string;
  readonly point: string;
  readonly serial: "yes" | "no" | "unknown";
  /** How often this scope was sent back to cleaning in this cycle, as known here. */
  readonly cleanings: number;
  /** How often it was sent back to drying in this cycle, as known here. */
  readonly dryings?: number;
  /** How often it was sent back to cleaning within the days of the policy, in whatever cycle; left out where it names none. */
  readonly cleaningsDays?: number | undefined;
}

const cleaned = ({ cleanings, cleaningsDays }: Context): Fields => ({ cleanings, ...(cleaningsDays === undefined ? {} : { cleanings_days: cleaningsDays }) });


/** A fact with the entry it comes from, so that a row can name what it speaks of. */
export interface Fact {
  readonly entry: string | undefined;
  readonly fields: Fields;
}

export function factsOf(state: ThreadState, catalogue: Catalogue, counts: SixCounts, context: Context, limits: readonly Limit[] = []): readonly Fact[] {
  const findings = ofKind(state, "finding.recorded").map((live) => findingFact(live, catalogue, context));
  const checks = new Set(catalogue.checks ?? []);
  const tests = ofKind(state, "reading.taken").flatMap((live): Fact[] => {
    const { what, result } = live.body;
    const here = { result, point: context.point, scope_kind: context.scopeKind };
    if (what === "leak_test" || what === "leakage_current") return [{ entry: live.hash, fields: { what, ...here } }];
    return typeof what === "string" && checks.has(what) ? [{ entry: live.hash, fields: { what: "function", check: what, ...here } }] : [];
  });
  const runs = ofKind(state, "channel.looked").map((live) => runFact(live, context));
  const values = ofKind(state, "reading.taken").flatMap((live) => valueFact(live, context, limits));
  const whole: Fact = {
    entry: undefined,
    fields: {
      what: "inspection", point: context.point, scope_kind: context.scopeKind, serial: context.serial,
      not_looked: counts.not_looked, could_not_look: counts.could_not_look,
    },
  };
  return [...findings, ...tests, ...runs, ...values, whole];
}

/** How the serial photos that stand were held against the record: one that contradicts outweighs the rest. */
export function serialOf(state: ThreadState): Context["serial"] {
  const answers = ofKind(state, "serial.photographed").map((live) => live.body["agrees"]);
  if (answers.includes("no")) return "no";
  return answers.includes("yes") ? "yes" : "unknown";
}

export function ofKind(state: ThreadState, kind: string): readonly Live[] {
  return state.live.filter((live) => live.kind === kind);
}

function runFact(live: Live, context: Context): Fact {
  const { channel, outcome, flow, reason } = live.body;
  return {
    entry: live.hash,
    fields: {
      what: "channel", channel, outcome, ...cleaned(context), point: context.point, scope_kind: context.scopeKind,
      ...(flow === undefined ? {} : { flow }), ...(reason === undefined ? {} : { reason }),
    },
  };
}

/** A measured value as what it says against its limit. */
function valueFact(live: Live, context: Context, limits: readonly Limit[]): readonly Fact[] {
  const { what, result, value_thousandths: value, unit, limit_thousandths: own } = live.body;
  if (result !== "value" || typeof value !== "number") return [];
  const level = levelOf(limits, String(what), value, typeof unit === "string" ? unit : undefined, typeof own === "number" ? own : undefined);
  return [{ entry: live.hash, fields: { what: "reading", reading: what, level, ...cleaned(context), point: context.point, scope_kind: context.scopeKind } }];
}

function findingFact(live: Live, catalogue: Catalogue, context: Context): Fact {
  const finding = String(live.body["finding"]);
  const known = catalogue.findings[finding];
  const part = String(live.body["part"]);
  const zone = catalogue.kinds[context.scopeKind]?.parts.find((each) => each.id === part)?.zone;
  return {
    entry: live.hash,
    fields: {
      what: "finding", finding, class: known?.class, urgency: known?.urgency, grade: live.body["grade"],
      since: live.body["since"], part, zone, point: context.point, scope_kind: context.scopeKind,
      ...cleaned(context), dryings: context.dryings ?? 0,
    },
  };
}
