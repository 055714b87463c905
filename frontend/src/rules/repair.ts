/**
 * Whether a scope is for repair, and what its packet still lacks, as all that is known of it says. Pure.
 * The same as `backend/loupebook/rules/repair.py`; `shared/vectors/repair.json` holds the two together. It is doubled
 * because a scope is asked for, packed and handed over without a network.
 *
 * One scope has at most one repair that stands: all that asked for it or opened it and that no lead has closed. So two
 * who ask on two tablets meet by themselves, whichever came first; no clock decides.
 */
import type { Fact } from "./conditions";

/**
 * asked: in somebody's words. concluded: an inspection whose decision asks for repair. by_phone: asked, and a lead said
 * yes by phone. leak_test: it failed. decided: a lead decided a hold so. opened, closed: by a lead. decontaminated: the
 * statement of what was done and what was not. packed: the case is packed. shipped: it left. noted: what the repairer
 * says of it, an estimate among it; approved: a lead's answer to that. returned: it is here again. test_held: a later test
 * of the sort that failed. loaner_in, loaner_noted, loaner_out: a scope on loan came, more is known of it, it left; they
 * say nothing of a repair.
 */
export type RepairWhat =
  | "asked" | "concluded" | "by_phone" | "leak_test" | "decided" | "opened" | "closed" | "decontaminated" | "packed"
  | "shipped" | "noted" | "approved" | "returned" | "test_held" | "loaner_in" | "loaner_noted" | "loaner_out";

const ASKS: ReadonlySet<RepairWhat> = new Set(["asked", "concluded"]);
const OPENS: ReadonlySet<RepairWhat> = new Set(["by_phone", "leak_test", "decided", "opened"]);
const STEPS: ReadonlySet<RepairWhat> = new Set(["decontaminated", "packed", "shipped", "noted", "returned"]);

/** The whole inside and all channels, in a list of what stays contaminated. */
export const INSIDE = "inside";
/** The whole scope: nobody has said what was done to it. */
export const ALL = "all";

/**
 * What a packet must have before it is called complete. That the statement and the label are among them: 29 CFR
 * 1910.1030(d)(2)(xiv). The rest is common practice, no source.
 */
export const ITEMS = ["opened", "serial_photo", "words", "decontaminated", "label", "contents", "contact", "case_photo"] as const;
export type RepairItem = (typeof ITEMS)[number];

/**
 * asked: a lead decides whether it is opened. open: it is made ready to leave. out: it left. back: it is here and not
 * accepted. accepted: it is not processed since. ready: a lead may release it.
 */
export type RepairStage = "asked" | "open" | "out" | "back" | "accepted" | "ready";

/**
 * What a repaired scope owes before it is released. A full look and a full processing after repair: ESGE-ESGENA
 * position statement, 2018 (from memory); ports above all: ICHE 2012, two scopes came back with loose biopsy ports.
 */
export const DUES = ["back", "serial", "accepted", "processed"] as const;
export type RepairDue = (typeof DUES)[number];

/** An acceptance inspection that was concluded (`goes` as decided), or one processing. Moments as in the cycle. */
export interface RepairLook {
  readonly entry: string;
  readonly what: "acceptance" | "processed";
  readonly at_ms: number;
  readonly goes: string;
}

/**
 * One word about a repair. `repair` names one that asked for it or opened it, "" for those themselves. `basis` is the
 * step that a newer one stands in the place of; `over` what a lead confirms, answers or closes, and of a return the
 * steps of the trip that it ends. `said` is the body as written, and `photos` how many photos show the packed case.
 * `undone`: taken back since.
 */
export interface RepairEvent {
  readonly entry: string;
  readonly what: RepairWhat;
  readonly person: string;
  readonly at_ms: number;
  readonly repair: string;
  readonly basis: string;
  readonly over: readonly string[];
  readonly undone: boolean;
  readonly said: Readonly<Record<string, unknown>>;
  readonly photos: number;
}

/**
 * The repair of a scope that stands now. `state`: asked = a lead decides whether it is opened. `openers`: what asked
 * for it or opened it and stands, oldest first; the first names it. `unconfirmed`: opened by phone, and no lead has
 * said so yet. `statements` and `packings` are the newest; several where tablets did not know of each other.
 * `contaminated` adds up over all statements. `shipments`: of the trip that is not ended by a return. `undecided`:
 * estimates that no lead answered. `bounces`: how often acceptance sent it back again. `owes`: what must be so before
 * it is released.
 */
export interface Repair {
  readonly state: "asked" | "open";
  readonly openers: readonly string[];
  readonly since_ms: number;
  readonly leak_failed: boolean;
  readonly unconfirmed: readonly string[];
  readonly statements: readonly string[];
  readonly packings: readonly string[];
  readonly contaminated: readonly string[];
  readonly missing: readonly RepairItem[];
  readonly stage: RepairStage;
  readonly shipments: readonly string[];
  readonly returns: readonly string[];
  readonly undecided: readonly string[];
  readonly bounces: number;
  readonly owes: readonly RepairDue[];
}

const byText = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

/**
 * What stands after these events, in whatever order they are given; nothing where none asked for a repair.
 * `serialPhoto`: a photo of the serial number that does not contradict is on record. `looks`: of this scope.
 */
export function repairOf(events: Iterable<RepairEvent>, serialPhoto: boolean, looks: Iterable<RepairLook> = []): Repair | undefined {
  const known = [...new Map([...events].map((event) => [event.entry, event])).values()];
  const standing = known.filter((event) => !event.undone).sort((a, b) => a.at_ms - b.at_ms || byText(a.entry, b.entry));
  const closed = new Set(standing.filter(({ what }) => what === "closed").flatMap(({ over }) => over));
  const steps = standing.filter(({ what, repair }) => STEPS.has(what) && !closed.has(repair));
  const openers = standing.filter((event) =>
    (ASKS.has(event.what) || OPENS.has(event.what)) && !closed.has(event.entry) && !answered(event, standing, steps));
  const [first] = openers;
  if (first === undefined) return undefined;
  const ended = new Set(steps.filter(({ what }) => what === "returned").flatMap(({ over }) => over));
  const trip = steps.filter(({ entry }) => !ended.has(entry));
  const [statements, packings, shipments] = [newest(trip, "decontaminated"), newest(trip, "packed"), newest(trip, "shipped")];
  const returns = newest(steps, "returned");
  const leakFailed = openers.some(({ what }) => what === "leak_test");
  const confirmed = new Set(openers.filter(({ what }) => what === "opened").flatMap(({ over }) => over));
  const has: Readonly<Record<RepairItem, boolean>> = {
    opened: openers.some(({ what }) => OPENS.has(what)),
    serial_photo: serialPhoto,
    words: openers.some(({ said }) => textOf(said["words"]) !== "" || textOf(said["reason"]) !== ""),
    decontaminated: statements.length > 0,
    label: statements.length > 0 && statements.every(({ said }) => said["label_on"] === true),
    contents: packings.length > 0,
    contact: packings.some(({ said }) => textOf(said["contact"]) !== ""),
    case_photo: packings.some(({ photos }) => photos > 0),
  };
  const back = backOf(returns, looks);
  const here = returns.length > 0 && statements.length === 0 && packings.length === 0 ? stageOf(back) : "open";
  const out = shipments.length > 0;
  return {
    state: has.opened ? "open" : "asked",
    openers: openers.map(({ entry }) => entry),
    since_ms: first.at_ms,
    leak_failed: leakFailed,
    unconfirmed: openers.filter(({ what, entry }) => what === "by_phone" && !confirmed.has(entry)).map(({ entry }) => entry),
    statements: statements.map(({ entry }) => entry),
    packings: packings.map(({ entry }) => entry),
    contaminated: contaminatedOf(leakFailed, statements),
    missing: ITEMS.filter((item) => !has[item]),
    stage: !has.opened ? "asked" : out ? "out" : here,
    shipments: shipments.map(({ entry }) => entry),
    returns: returns.map(({ entry }) => entry),
    undecided: undecidedIn(steps, standing),
    bounces: back.bounces,
    owes: owesOf(back, out),
  };
}

/** What is known since it came back last: the newest acceptance, and a processing after that. */
interface Back {
  readonly returned: boolean;
  readonly serial: boolean;
  readonly goes: string;
  readonly processed: boolean;
  readonly bounces: number;
}

function inOrder(looks: Iterable<RepairLook>): readonly RepairLook[] {
  return [...new Map([...looks].map((look) => [look.entry, look])).values()].sort((a, b) => a.at_ms - b.at_ms || byText(a.entry, b.entry));
}

function backOf(returns: readonly RepairEvent[], looks: Iterable<RepairLook>): Back {
  const known = inOrder(looks);
  const moments = returns.map(({ at_ms }) => at_ms);
  const [since, began] = [Math.max(...moments), Math.min(...moments)];
  const returned = returns.length > 0;
  const seen = known.filter(({ what, at_ms }) => what === "acceptance" && returned && at_ms >= since);
  const ended = seen.at(-1);
  return {
    returned, serial: returns.every(({ at_ms, said }) => at_ms !== since || said["serial"] !== "no"), goes: ended?.goes ?? "",
    processed: ended !== undefined && known.some(({ what, at_ms }) => what === "processed" && at_ms >= ended.at_ms),
    bounces: known.filter(({ what, goes, at_ms }) => what === "acceptance" && goes === "repair" && returned && at_ms >= began).length,
  };
}

function stageOf({ goes, processed }: Back): RepairStage {
  if (goes === "repair") return "open";
  return goes !== "on" ? "back" : processed ? "ready" : "accepted";
}

function owesOf({ returned, serial, goes, processed }: Back, out: boolean): readonly RepairDue[] {
  const has: Readonly<Record<RepairDue, boolean>> = {
    back: returned && !out, serial: returned && serial, accepted: goes === "on" && !out, processed: goes === "on" && processed && !out,
  };
  return DUES.filter((due) => !has[due]);
}

/** Whether a failed test is answered by a later one of its sort that held, before anything was built on it. */
function answered(opener: RepairEvent, standing: readonly RepairEvent[], steps: readonly RepairEvent[]): boolean {
  if (opener.what !== "leak_test" || steps.length > 0 || standing.some(({ over }) => over.includes(opener.entry))) return false;
  return standing.some(({ what, said, at_ms }) => what === "test_held" && said["what"] === opener.said["what"] && at_ms > opener.at_ms);
}

function undecidedIn(steps: readonly RepairEvent[], standing: readonly RepairEvent[]): readonly string[] {
  const done = new Set(standing.filter(({ what }) => what === "approved").flatMap(({ over }) => over));
  return newest(steps, "noted").filter(({ said, entry }) => said["estimate"] === true && !done.has(entry)).map(({ entry }) => entry);
}

/**
 * Parts and channels that count as contaminated, `inside` and `all` as they stand above. Without a statement the whole
 * scope does. After a failed leak test fluid may have come anywhere: the whole inside does too, until whoever processed
 * it says otherwise (common practice, no source).
 */
export function contaminatedOf(leakFailed: boolean, statements: readonly RepairEvent[]): readonly string[] {
  if (statements.length === 0) return [ALL];
  const named = new Set<string>();
  for (const { person, said } of statements) {
    if (leakFailed && person !== said["processed_by"]) named.add(INSIDE);
    for (const each of (said["contaminated"] ?? []) as readonly string[]) named.add(each);
  }
  return [...named].sort((a, b) => Number(a !== INSIDE) - Number(b !== INSIDE) || byText(a, b));
}

function newest(steps: readonly RepairEvent[], what: RepairWhat): readonly RepairEvent[] {
  const ofKind = steps.filter((event) => event.what === what);
  const replaced = new Set(ofKind.map(({ basis }) => basis));
  return ofKind.filter(({ entry }) => !replaced.has(entry));
}

function textOf(value: unknown): string {
  return typeof value === "string" ? value.trim() : "";
}

/**
 * What a scope on loan owes before it may serve: its instructions at hand, connectors and brushes that fit it, an
 * acceptance inspection that let it on, a processing after that. Loaners are inside the programme and are processed
 * before use: HICPAC 2016, ESGE-ESGENA position statement, 2018 (from memory); the rest is common practice, no source.
 */
export const LOAN_DUES = ["instructions", "fits", "accepted", "processed"] as const;
export type LoanDue = (typeof LOAN_DUES)[number];

/**
 * A scope that is here on loan. `stage`: came = not accepted; accepted = not processed since; processed = both, and
 * `owes` something else; service = it may be used. `said`: owner, until, instructions, fits, accessories, as the newest
 * word of each says. `stands_for`: the scope it stands in for by its own words, "" for none; `tied_ms` when that was said.
 */
export interface Loaner {
  readonly stage: "came" | "accepted" | "processed" | "service";
  readonly since_ms: number;
  /** The words that said it came, the newest of each. */
  readonly came: readonly string[];
  readonly owes: readonly LoanDue[];
  readonly said: Readonly<Record<string, unknown>>;
  readonly stands_for: string;
  readonly tied_ms: number;
}

/** The loan that stands; nothing where none came, or it left. A newer word that it came names the one before. */
export function loanerOf(events: Iterable<RepairEvent>, looks: Iterable<RepairLook> = []): Loaner | undefined {
  const known = [...new Map([...events].map((event) => [event.entry, event])).values()];
  const standing = known.filter(({ undone }) => !undone).sort((a, b) => a.at_ms - b.at_ms || byText(a.entry, b.entry));
  const left = new Set(standing.filter(({ what }) => what === "loaner_out").flatMap(({ over }) => over));
  const came = newest(standing, "loaner_in").filter(({ entry }) => !left.has(entry));
  const [first] = came;
  if (first === undefined) return undefined;
  const ordered = inOrder(looks);
  const seen = ordered.filter(({ what, at_ms }) => what === "acceptance" && at_ms >= first.at_ms).at(-1);
  const accepted = seen?.goes === "on";
  const processed = accepted && ordered.some(({ what, at_ms }) => what === "processed" && at_ms >= seen.at_ms);
  const { said, tied_ms } = knownOfLoan(came, standing);
  const has: Readonly<Record<LoanDue, boolean>> = { instructions: said["instructions"] === true, fits: said["fits"] === "yes", accepted, processed };
  const owes = LOAN_DUES.filter((due) => !has[due]);
  const stage = !accepted ? "came" : !processed ? "accepted" : owes.length > 0 ? "processed" : "service";
  return { stage, since_ms: first.at_ms, came: came.map(({ entry }) => entry), owes, said, stands_for: textOf(said["stands_for"]), tied_ms };
}

/** What the words of a loan say, each later one in the place of the earlier; when `stands_for` was said last. */
function knownOfLoan(came: readonly RepairEvent[], standing: readonly RepairEvent[]): { readonly said: Readonly<Record<string, unknown>>; readonly tied_ms: number } {
  const ofIt = new Set(came.map(({ entry }) => entry));
  const before = new Map(standing.filter(({ what }) => what === "loaner_in").map(({ entry, basis }) => [entry, basis]));
  for (const { basis } of came) {
    for (let each = basis; each !== "" && !ofIt.has(each); each = before.get(each) ?? "") ofIt.add(each);
  }
  const words = standing.filter((event) => came.includes(event) || (event.what === "loaner_noted" && ofIt.has(event.basis)));
  return { said: Object.assign({}, ...words.map(({ said }) => said)) as Record<string, unknown>, tied_ms: words.filter(({ said }) => "stands_for" in said).at(-1)?.at_ms ?? 0 };
}

/** The scope that a loan stands in for, and since when that is said. */
export interface Tie {
  readonly scope: string;
  readonly since_ms: number;
}

/**
 * The scope a loan stands in for: what its own words say, or a shipment that names it, whichever is said last. `key`:
 * the loan's own. `shipped`: scopes with words of how they left; one that a newer one replaces says nothing.
 */
export function tieOf(key: string, loaner: Loaner, shipped: Iterable<readonly [string, RepairEvent]>): Tie | undefined {
  const words = [...shipped];
  const replaced = new Set(words.map(([, { basis }]) => basis));
  const named = words.filter(([, { what, undone, entry, said, at_ms }]) => what === "shipped" && !undone && !replaced.has(entry) && said["loaner"] === key && at_ms >= loaner.since_ms);
  const ties = [
    ...(loaner.tied_ms === 0 ? [] : [{ since_ms: loaner.tied_ms, entry: "", scope: loaner.stands_for }]),
    ...named.map(([scope, { at_ms, entry }]) => ({ since_ms: at_ms, entry, scope })),
  ].sort((a, b) => a.since_ms - b.since_ms || byText(a.entry, b.entry));
  const last = ties.at(-1);
  return last === undefined || last.scope === "" ? undefined : { scope: last.scope, since_ms: last.since_ms };
}

/**
 * Whether the scope that a loan stands in for is back and released since the two were tied: `releasedMs` is when a lead
 * closed a repair of it as done last, 0 where none was. A word for whoever sees the loan; it bars nothing (common
 * practice, no source).
 */
export function mayGoBack(tie: Tie, repair: Repair | undefined, releasedMs: number): boolean {
  return repair === undefined && releasedMs >= tie.since_ms;
}

/** Why a scope is not let go before use: a repair of it stands, or it is on loan and owes something before it serves. */
export type Stop = "repair" | "loan";

/** Nothing where it may be used. A repair ends only when a lead closes it; a loan is in service once it owes nothing. */
export function stopsUse(repair: Repair | undefined, loaner: Loaner | undefined): Stop | undefined {
  if (repair !== undefined) return "repair";
  return loaner !== undefined && loaner.stage !== "service" ? "loan" : undefined;
}

const MINUTE_MS = 60_000;

/** How long it is out by now, as the policy table reads it; without `minutes` where a clock must be wrong. */
export function outFact(leftMs: number, scopeKind: string, nowMs: number): Fact {
  const gone = nowMs - leftMs;
  return { what: "span", span: "repair", scope_kind: scopeKind, place: "", ...(gone >= 0 ? { minutes: Math.floor(gone / MINUTE_MS) } : {}) };
}

/** One thing that came back otherwise than it left. */
export type Difference =
  | { readonly what: "serial"; readonly read: string }
  | { readonly what: "accessories"; readonly of: string; readonly left: number; readonly came: number }
  | { readonly what: "swapped"; readonly of: string };

type Said = Readonly<Record<string, unknown>>;

/**
 * What came back otherwise than it left: bodies of the packing and of the return. The serial number; each accessory
 * with how many left and how many came; parts that look swapped, in words.
 */
export function differs(left: Said, came: Said): readonly Difference[] {
  const [before, now] = [countsOf(left), countsOf(came)];
  const names = [...new Set([...before.keys(), ...now.keys()])].sort(byText);
  return [
    ...(came["serial"] === "no" ? [{ what: "serial" as const, read: textOf(came["read"]) }] : []),
    ...names.map((of) => ({ what: "accessories" as const, of, left: before.get(of) ?? 0, came: now.get(of) ?? 0 })).filter((each) => each.left !== each.came),
    ...((came["swapped"] ?? []) as readonly string[]).map((of) => ({ what: "swapped" as const, of })),
  ];
}

function countsOf(said: Said): ReadonlyMap<string, number> {
  const counts = new Map<string, number>();
  for (const { what, count } of (said["accessories"] ?? []) as readonly { readonly what: string; readonly count: number }[]) {
    counts.set(what, (counts.get(what) ?? 0) + count);
  }
  return counts;
}
