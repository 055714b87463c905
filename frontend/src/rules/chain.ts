/** The chain-rule machine: the same answer on every machine for ever. Rows: shared/rules/chain.json. */
import table from "../../../shared/rules/chain.json";
import { partsOf, partsOnRoute, partsOnScope, type Pins, routeCovered, routeOf, zoneAllowed } from "./chain-guards";
import { type Fields, type Live, NOTHING, type PartMark, type RuleEntry, type ThreadState } from "./chain-state";
import { allHold, type Condition } from "./conditions";

export type { Pins } from "./chain-guards";

export type Verdict = { readonly verdict: "counted" } | { readonly verdict: "aside"; readonly reason: string };

interface Rule {
  readonly kind: string;
  readonly needs: readonly string[];
  readonly refuses: readonly string[];
  readonly sets: readonly string[];
  readonly unless?: readonly { readonly need: string; readonly when: readonly Condition[] }[];
  readonly photos?: { readonly shows?: string; readonly least: number };
  readonly checks?: readonly string[];
  readonly target?: string;
}

const RULES: ReadonlyMap<string, Rule> = new Map((table.rules as readonly Rule[]).map((rule) => [rule.kind, rule]));
const REASONS: Readonly<Record<string, string>> = table.reasons;
const COUNTED: Verdict = { verdict: "counted" };

function has(state: ThreadState, fact: string): boolean {
  return (state.facts[fact] ?? []).length > 0;
}

/** The verdict on an entry, given what counts before it in its thread. Pure; never changes the state. */
export function judge(state: ThreadState, entry: RuleEntry, hash: string, pins: Pins): Verdict {
  const rule = RULES.get(entry.kind);
  if (rule === undefined) return { verdict: "aside", reason: "unknown_kind" };
  const reason =
    needs(rule, state, entry) ??
    refuses(rule, state) ??
    photos(rule, state, entry) ??
    checks(rule, state, entry, pins) ??
    target(rule, state, entry, hash);
  return reason === undefined ? COUNTED : { verdict: "aside", reason };
}

function needs(rule: Rule, state: ThreadState, entry: RuleEntry): string | undefined {
  const waived = (need: string): boolean =>
    (rule.unless ?? []).some((item) => item.need === need && allHold(item.when, entry.body));
  const missing = rule.needs.find((need) => !has(state, need) && !waived(need));
  return missing === undefined ? undefined : REASONS[missing];
}

function refuses(rule: Rule, state: ThreadState): string | undefined {
  const found = rule.refuses.find((fact) => has(state, fact));
  return found === undefined ? undefined : REASONS[found];
}

/** The photo of the serial number comes before any other photo of that inspection part. */
function photos(rule: Rule, state: ThreadState, entry: RuleEntry): string | undefined {
  const others = entry.photos.some((photo) => photo.shows !== "serial");
  const inPart = entry.about.inspection !== undefined || rule.sets.includes("begun");
  if (others && inPart && !has(state, "serial")) return REASONS["serial"];
  if (rule.photos === undefined) return undefined;
  const { shows, least } = rule.photos;
  const fitting = entry.photos.filter((photo) => shows === undefined || photo.shows === shows);
  return fitting.length >= least ? undefined : "photo_must_show_serial";
}

function checks(rule: Rule, state: ThreadState, entry: RuleEntry, pins: Pins): string | undefined {
  if (rule.checks === undefined || rule.checks.length === 0) return undefined;
  const route = routeOf(state, pins);
  if (route === undefined) return "catalogue_unknown";
  for (const check of rule.checks) {
    const reason = guard(check)(entry, route, state);
    if (reason !== undefined) return reason;
  }
  return undefined;
}

function guard(name: string): typeof zoneAllowed {
  switch (name) {
    case "parts_on_route":
      return partsOnRoute;
    case "parts_on_scope":
      return partsOnScope;
    case "zone_allowed":
      return zoneAllowed;
    case "route_covered":
      return routeCovered;
    default:
      throw new Error(`no guard is called ${name}`);
  }
}

const NOT_WITHDRAWABLE: ReadonlySet<string> = new Set(["inspection.begun"]);

function target(rule: Rule, state: ThreadState, entry: RuleEntry, _hash: string): string | undefined {
  if (rule.target === undefined) return undefined;
  const named = state.live.find((live) => live.hash === entry.body["entry"]);
  if (named === undefined) return "target_not_here";
  if (entry.kind !== "entry.withdrawn") return undefined;
  if (NOT_WITHDRAWABLE.has(named.kind)) return "target_not_withdrawable";
  const holdsUp = named.kind === "serial.photographed" && (state.facts["serial"] ?? []).length === 1;
  return holdsUp && hangs(state) ? "target_not_withdrawable" : undefined;
}

/** Why an entry that counts cannot be taken back now, by the rules themselves; undefined = it can. */
export function notWithdrawable(state: ThreadState, entry: string): string | undefined {
  const verdict = judge(state, { kind: "entry.withdrawn", about: {}, body: { entry }, photos: [] }, "", () => undefined);
  return verdict.verdict === "aside" ? verdict.reason : undefined;
}

/** Whether marks, findings or photos stand on the serial photo. */
function hangs(state: ThreadState): boolean {
  const some = (lists: Readonly<Record<string, readonly unknown[]>>): boolean =>
    Object.values(lists).some((list) => list.length > 0);
  return some(state.marks) || some(state.photos);
}

/** The state after a counted entry. Never called for one that was put aside. */
export function advance(state: ThreadState, entry: RuleEntry, hash: string): ThreadState {
  const named = entry.body["entry"];
  switch (entry.kind) {
    case "entry.withdrawn":
      return derive(state.live.filter((live) => live.hash !== named));
    case "entry.corrected":
      return derive(state.live.map((live) => (live.hash === named ? corrected(live, entry, hash) : live)));
    default: {
      const { kind, body, photos } = entry;
      return derive([...state.live, { hash, version: hash, kind, body, photos }]);
    }
  }
}

function corrected(live: Live, entry: RuleEntry, version: string): Live {
  return { ...live, version, body: (entry.body["body"] ?? {}) as Fields, photos: [...live.photos, ...entry.photos] };
}

/** Facts, marks and photos of what counts, in the order it was written. */
function derive(live: readonly Live[]): ThreadState {
  let begun: ThreadState["begun"] = null;
  const facts: Record<string, string[]> = {};
  const marks: Record<string, [PartMark, string][]> = {};
  const photos: Record<string, string[]> = {};
  for (const { hash, kind, body, photos: own } of live) {
    if (kind === "inspection.begun") begun = { hash, body };
    for (const fact of RULES.get(kind)?.sets ?? []) (facts[fact] ??= []).push(hash);
    const mark = markMade(kind, body);
    for (const part of new Set(partsOf({ body }))) {
      if (mark !== undefined) (marks[part] ??= []).push([mark, hash]);
      if (own.length > 0) (photos[part] ??= []).push(hash);
    }
  }
  return { live, begun, facts, marks, photos };
}

/** The mark an entry makes on the parts it names. */
function markMade(kind: string, body: Fields): PartMark | undefined {
  switch (kind) {
    case "part.marked":
      return body["mark"] === "could_not_look" ? "could_not_look" : "nothing_found";
    case "finding.recorded":
      return "finding";
    case "channel.looked":
      return body["outcome"] === "through" ? "nothing_found" : "could_not_look";
    default:
      return undefined;
  }
}

/** The state of a thread whose entries all count. */
export function replay(entries: readonly { readonly entry: RuleEntry; readonly hash: string }[], from = NOTHING): ThreadState {
  return entries.reduce((state, { entry, hash }) => advance(state, entry, hash), from);
}
