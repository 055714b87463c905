/**
 * One inspection in hand: its route, marks and counts as the store has them, and the acts that record.
 * Each act is one entry, durable before the screen moves; nothing here is remembered that the store is not.
 */
import {
  append, inspectionState, onChange, type By, type InspectionState, type NewPhoto, type Saved, type StationBodies,
  type StationKind,
} from "../record";
import { until } from "../parts/settled";
import type { Catalogue } from "../rules/chain-catalogue";
import type { Live } from "../rules/chain-state";
import { sentBackHere } from "../cards/again";
import { standOfScope } from "../cards/cycle";
import { type SentBack, sentBackWithin } from "../rules/again";
import { spanFacts, type Stand } from "../rules/cycle";
import { here } from "./here.svelte";
import { type Context, factsOf, serialOf } from "../rules/facts";
import { type Policy, suggest, type Suggestion, type First, type Goes } from "../rules/policy";
import {
  checksLeft, countMarks, leftOf, marksOf, nextStop, routeOf, zoneOffer,
  type MarksOfRoute, type Route, type RouteMark, type RouteStop, type SixCounts, type ZoneOffer,
} from "../rules/route";

/** Marks made by other stations on the same inspection, and the entries they stand in, as the cards know them. */
export interface Elsewhere {
  readonly marks: Readonly<Record<string, RouteMark>>;
  readonly entries: readonly string[];
}
const NOWHERE: Elsewhere = { marks: {}, entries: [] };

/** A finding as the screen has it, before it is an entry. */
export interface NewFinding {
  readonly part: string;
  readonly finding: string;
  readonly grade: StationBodies["finding.recorded"]["grade"];
  readonly since: "new" | "same" | "worse" | "unknown";
  readonly place?: { readonly mm: number; readonly end: "tip" | "body" | "port"; readonly known: "read_off" | "estimated" | "unknown" } | undefined;
  readonly compared?: string | undefined;
  readonly marks: Marks;
  readonly beside?: StationBodies["finding.recorded"]["beside"];
}

/** What is laid over photos, as an entry has it. */
export type Marks = Pick<StationBodies["photo.marked"], "rings" | "arrows" | "lengths">;

export type FunctionResult = "works" | "weak" | "does_not_work" | "not_checked";

/** When it was begun, by the server's clock as far as this tablet knew the difference; ms since 1970. */
function beganMs({ entries }: InspectionState): number {
  const begun = entries[0]?.entry;
  return begun === undefined ? 0 : Date.parse(begun.at) - (begun.clock?.ahead_ms ?? 0);
}

export class Inspection {
  state = $state.raw<InspectionState | undefined>(undefined);
  /** True once the store was asked: `state` undefined then means that this tablet has no such inspection. */
  asked = $state(false);
  /** Before use: where the scope stands in its cycle, as known here; other points ask nothing of it. */
  stood = $state.raw<{ readonly stand: Stand; readonly nowMs: number } | undefined>(undefined);
  /** The looks that sent the scope back to cleaning, as known here. */
  sentBack = $state.raw<readonly SentBack[]>([]);
  elsewhere = $state.raw<Elsewhere>(NOWHERE);

  readonly route: Route | undefined = $derived.by(() => {
    const { state } = this;
    const body = state?.thread.begun?.body;
    if (state?.catalogue === undefined || body === undefined) return undefined;
    return routeOf(state.catalogue as Catalogue, state.scopeKind, state.point, idsOf(body["none_here"]), idsOf(body["not_due"]));
  });
  readonly marks: MarksOfRoute = $derived(
    this.route === undefined || this.state === undefined ? {} : marksOf(this.route, this.state.thread, this.elsewhere.marks),
  );
  readonly counts: SixCounts = $derived(countMarks(this.marks));
  readonly left: readonly RouteStop[] = $derived(this.route === undefined ? [] : leftOf(this.route, this.marks));
  /** Needs of the point that no entry has met: "leak_test". */
  readonly needs: readonly string[] = $derived(this.#openNeeds());

  /** Functions of the point that nobody has tried yet, in the order of the catalogue. */
  readonly untried: readonly string[] = $derived(
    this.route === undefined || this.state === undefined ? [] : checksLeft(this.route, this.state.thread),
  );
  /** Nothing of this point is left: every part, test and function has its answer. */
  readonly whole: boolean = $derived(this.left.length === 0 && this.needs.length === 0 && this.untried.length === 0);

  readonly #stop: () => void;

  constructor(readonly begun: string) {
    void this.read();
    this.#stop = onChange((thing) => {
      if (thing === "entries" || thing === "receipts" || thing === "cards") void this.read();
    });
  }

  end(): void {
    this.#stop();
  }

  async read(): Promise<void> {
    const state = await until(inspectionState(this.begun));
    if (state?.point === "before_use") {
      this.stood = await until(standOfScope(state.scope, this.begun));
      here.stands = { ...here.stands, [state.scope]: this.stood.stand };
    }
    if (state !== undefined) this.sentBack = await until(sentBackHere(state.scope));
    this.state = state;
    this.asked = true;
  }

  next(from: string | undefined): RouteStop | undefined {
    return this.route === undefined ? undefined : nextStop(this.route, this.marks, from);
  }

  zone(part: string): ZoneOffer | undefined {
    return this.route === undefined || this.state === undefined
      ? undefined
      : zoneOffer(this.route, this.state.thread, this.marks, part);
  }

  /** What the policy suggests; `cleanings` and `dryings`: how often the scope was sent back in this cycle, as known here. */
  suggestion(policy: Policy, cleanings: number, dryings: number): Suggestion & { readonly entries: readonly (string | undefined)[] } {
    const { state } = this;
    if (state?.catalogue === undefined) return { first: "nothing", goes: "on", rows: [], entries: [] };
    const days = policy.recleans?.days;
    const context: Context = {
      scopeKind: state.scopeKind, point: state.point, serial: serialOf(state.thread), cleanings, dryings,
      cleaningsDays: days === undefined ? undefined : sentBackWithin(this.sentBack, state.root, beganMs(state), days),
    };
    const times = this.stood === undefined ? [] : spanFacts(this.stood.stand, state.scopeKind, this.stood.nowMs);
    const facts = [
      ...factsOf(state.thread, state.catalogue, this.counts, context, policy.limits),
      ...times.map((fields) => ({ entry: undefined, fields })),
    ];
    const suggested = suggest(policy, facts.map((fact) => fact.fields as Parameters<typeof suggest>[1][number]));
    return { ...suggested, entries: suggested.rows.map((row) => facts[row.fact]?.entry) };
  }

  // ------------------------------------------------------------------ what records

  nothingFound(by: By, parts: readonly string[], zone?: string): Promise<Saved> {
    return this.#write(by, "part.marked", { mark: "nothing_found", parts, ...(zone === undefined ? {} : { zone }) });
  }

  couldNotLook(by: By, part: string, reason: string): Promise<Saved> {
    return this.#write(by, "part.marked", { mark: "could_not_look", parts: [part], reason });
  }

  photo(
    by: By, part: string, photos: readonly NewPhoto[], marks: Marks = { rings: [] }, draft?: string, place?: NewFinding["place"],
  ): Promise<Saved> {
    return this.#write(by, "photo.added", { part, ...shortened(marks), ...(place === undefined ? {} : { place }) }, photos, draft);
  }

  finding(by: By, finding: NewFinding, photos: readonly NewPhoto[], draft: string): Promise<Saved> {
    const { place, compared, beside, marks, ...rest } = finding;
    const body = { ...rest, ...shortened(marks), ...(beside === undefined ? {} : { beside }), ...(place === undefined ? {} : { place }), ...(compared === undefined ? {} : { compared }) };
    return this.#write(by, "finding.recorded", body, photos, draft);
  }

  /** Marks over a photo that is in the record already. To take them back, the entry is withdrawn. */
  marksOver(by: By, photo: string, marks: Marks): Promise<Saved> {
    return this.#write(by, "photo.marked", { photo, ...shortened(marks) });
  }

  /** The test that the point needs: "leak_test", or "leakage_current" where there is no inside to press air into. */
  get test(): "leak_test" | "leakage_current" {
    return this.route?.needs.includes("leakage_current") === true ? "leakage_current" : "leak_test";
  }

  leakTest(by: By, body: Omit<StationBodies["reading.taken"], "what">, photos: readonly NewPhoto[], draft: string): Promise<Saved> {
    return this.#write(by, "reading.taken", { what: this.test, ...body }, photos, draft);
  }

  /** A measured value. */
  reading(by: By, body: StationBodies["reading.taken"], draft?: string): Promise<Saved> {
    return this.#write(by, "reading.taken", body, [], draft);
  }

  /** The reading of a function, as it stands now; undefined = not tried. */
  tried(check: string): Live | undefined {
    return this.state?.thread.live.find((live) => live.kind === "reading.taken" && live.body["what"] === check);
  }

  /** One function tried. A second answer corrects the first, so that only the newest counts. */
  function(by: By, check: string, result: FunctionResult, reason?: string): Promise<Saved> {
    const body = { what: check, result, ...(reason === undefined ? {} : { reason }) };
    const before = this.tried(check);
    return before === undefined ? this.#write(by, "reading.taken", body) : this.#correct(by, before, body);
  }

  /** Words or photos to a function that was tried. */
  aboutFunction(by: By, check: string, note: string | undefined, photos: readonly NewPhoto[] = [], draft?: string): Promise<Saved> | undefined {
    const before = this.tried(check);
    if (before === undefined) return undefined;
    const body = { ...before.body, ...(note === undefined ? {} : { note }) };
    return this.#correct(by, before, body, photos, draft);
  }

  channel(by: By, body: StationBodies["channel.looked"], draft?: string): Promise<Saved> {
    return this.#write(by, "channel.looked", body, [], draft);
  }

  /** Runs through channels that stand, the newest last. */
  get runs(): readonly Live[] {
    return (this.state?.thread.live ?? []).filter((live) => live.kind === "channel.looked");
  }

  #correct(by: By, before: Live, body: Readonly<Record<string, unknown>>, photos: readonly NewPhoto[] = [], draft?: string): Promise<Saved> {
    // A body that counts was read from a line, so it is JSON.
    const whole = body as StationBodies["entry.corrected"]["body"];
    return this.#write(by, "entry.corrected", { entry: before.hash, builds_on: before.version, body: whole }, photos, draft);
  }

  withdraw(by: By, entry: string, reason = "undo"): Promise<Saved> {
    return this.#write(by, "entry.withdrawn", { entry, reason });
  }

  /** Puts `body` in place of an entry's own, on top of the version its author had before them. */
  correct(by: By, entry: string, buildsOn: string, body: Readonly<Record<string, unknown>>, reason: string): Promise<Saved> {
    // Read back from a line of ours, with one field changed: it is JSON.
    return this.#write(by, "entry.corrected", { entry, builds_on: buildsOn, body: body as unknown as StationBodies["entry.corrected"]["body"], reason });
  }

  conclude(by: By, answer: {
    readonly first: First; readonly goes: Goes; readonly suggested: Suggestion; readonly leftReason?: string | undefined;
    readonly tagOn?: boolean | undefined;
    /** At acceptance: why it goes back to repair. */
    readonly words?: string | undefined;
  }, draft?: string): Promise<Saved> {
    const { first, goes, suggested, leftReason, tagOn, words } = answer;
    const disinfection = this.stood?.stand.disinfected?.entry;
    const own = new Set(Object.keys(this.state?.marks ?? {}));
    const others = Object.keys(this.elsewhere.marks).filter((id) => !own.has(id));
    return this.#write(by, "inspection.concluded", {
      first, goes, suggested_first: suggested.first, suggested_goes: suggested.goes,
      rows: [...new Set(suggested.rows.map(({ row }) => row))], counts: this.counts,
      relies: others.length > 0 ? this.elsewhere.entries : [], elsewhere: others,
      left: goes === "on" || leftReason === undefined ? [] : this.left.map((stop) => ({ part: stop.id, reason: leftReason })),
      ...(tagOn === undefined ? {} : { tag_on: tagOn }),
      ...(words === undefined ? {} : { words }),
      ...(disinfection === undefined ? {} : { disinfection }),
    }, [], draft);
  }

  /** The photo may show a person or patient data: hidden from now on, on every screen and every tablet. */
  hide(by: By, photo: string): Promise<Saved> {
    return this.#write(by, "photo.restricted", { photo });
  }

  hold(by: By, reason: string, tagOn: boolean): Promise<Saved> {
    return this.#write(by, "hold.placed", { reason, tag_on: tagOn });
  }

  abandon(by: By, reason: string): Promise<Saved> {
    return this.#write(by, "inspection.abandoned", { reason });
  }

  async #write<K extends StationKind>(by: By, kind: K, body: StationBodies[K], photos: readonly NewPhoto[] = [], draft?: string): Promise<Saved> {
    const about = { scope: this.state?.scope ?? "", inspection: this.begun };
    try {
      return await until(append({ kind, by, about, body, photos, ...(draft === undefined ? {} : { draft }) }));
    } finally {
      await this.read();
    }
  }

  #openNeeds(): readonly string[] {
    const done = new Set((this.state?.thread.live ?? []).filter((live) => live.kind === "reading.taken").map((live) => String(live.body["what"])));
    return (this.route?.needs ?? []).filter((need) => !done.has(need));
  }
}

/** Rings stand in every entry that may have them; arrows and lengths only where there are any. */
function shortened({ rings = [], arrows = [], lengths = [] }: Marks): Marks {
  return { rings, ...(arrows.length === 0 ? {} : { arrows }), ...(lengths.length === 0 ? {} : { lengths }) };
}

function idsOf(value: unknown): readonly string[] {
  return Array.isArray(value) ? value.filter((id): id is string => typeof id === "string") : [];
}
