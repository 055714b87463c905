/**
 * Whether a scope is for repair, and what its packet still lacks, as all that is known of it says. Pure.
 * The same as `backend/loupebook/rules/repair.py`; `shared/vectors/repair.json` holds the two together. It is doubled
 * because a scope is asked for, packed and handed over without a network.
 *
 * One scope has at most one repair that stands: all that asked for it or opened it and that no lead has closed. So two
 * who ask on two tablets meet by themselves, whichever came first; no clock decides.
 */

/**
 * asked: in somebody's words. concluded: an inspection whose decision asks for repair. by_phone: asked, and a lead said
 * yes by phone. leak_test: it failed. decided: a lead decided a hold so. opened, closed: by a lead. decontaminated: the
 * statement of what was done and what was not. packed: the case is packed.
 */
export type RepairWhat = "asked" | "concluded" | "by_phone" | "leak_test" | "decided" | "opened" | "closed" | "decontaminated" | "packed";

const ASKS: ReadonlySet<RepairWhat> = new Set(["asked", "concluded"]);
const OPENS: ReadonlySet<RepairWhat> = new Set(["by_phone", "leak_test", "decided", "opened"]);
const STEPS: ReadonlySet<RepairWhat> = new Set(["decontaminated", "packed"]);

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
 * One word about a repair. `repair` names one that asked for it or opened it, "" for those themselves. `basis` is the
 * statement or packing that a newer one stands in the place of; `over` what a lead confirms or closes. `said` is the
 * body as written, and `photos` how many photos show the packed case. `undone`: taken back since.
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
 * `contaminated` adds up over all statements.
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
}

const byText = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

/**
 * What stands after these events, in whatever order they are given; nothing where none asked for a repair.
 * `serialPhoto`: a photo of the serial number that does not contradict is on record.
 */
export function repairOf(events: Iterable<RepairEvent>, serialPhoto: boolean): Repair | undefined {
  const known = [...new Map([...events].map((event) => [event.entry, event])).values()];
  const standing = known.filter((event) => !event.undone).sort((a, b) => a.at_ms - b.at_ms || byText(a.entry, b.entry));
  const closed = new Set(standing.filter(({ what }) => what === "closed").flatMap(({ over }) => over));
  const openers = standing.filter(({ what, entry }) => (ASKS.has(what) || OPENS.has(what)) && !closed.has(entry));
  const [first] = openers;
  if (first === undefined) return undefined;
  const steps = standing.filter(({ what, repair }) => STEPS.has(what) && !closed.has(repair));
  const [statements, packings] = [newest(steps, "decontaminated"), newest(steps, "packed")];
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
  };
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
