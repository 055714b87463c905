/** What the server answers to the desk: the shapes of reading/ and door/ (see their modules for the meaning). */
import type { Against, First, Goes, Grade, Laid, Mark, PlaceEnd, PlaceKnown, Role, Since } from "../parts/types";
import type { Difference, Loaner, Repair, RepairEvent } from "../rules/repair";

export interface Scope {
  readonly key: string;
  readonly on_record: string | null;
  readonly kind: string | null;
  readonly serial: string | null;
  readonly di: string | null;
  readonly maker: string | null;
  readonly model: string | null;
  readonly tag: string | null;
}

export interface Person {
  readonly id: string;
  readonly name: string;
  readonly initials: string;
  readonly roles: readonly Role[];
}

/** One channel of a scope, from its own instructions. */
export interface ChannelSize {
  readonly channel: string;
  readonly inner_um?: number;
  readonly length_mm?: number;
  readonly reach?: "borescope" | "flow" | "none";
}

export interface Instructions {
  readonly title: string;
  readonly edition?: string;
  readonly dated?: string;
}

/** `GET /lead/scope`: all that is on record; `version` is the entry that says so. */
export interface ScopeWhole extends Scope {
  readonly codes: readonly string[];
  readonly none_here: readonly string[];
  readonly tube_mm: number | null;
  /** Outer diameter of the insertion tube in thousandths of a millimetre. */
  readonly tube_um: number | null;
  readonly serial_where: string | null;
  readonly channels: readonly ChannelSize[];
  readonly instructions: Instructions | null;
  readonly version: string | null;
}

/** Something a lead must look at: `what` names it, the rest are ids, hashes and numbers. */
export type Point = Readonly<Record<string, unknown>> & { readonly what: string };

export interface StopShort {
  readonly id: string;
  readonly mark: Mark;
  readonly out_of_use: boolean;
}

export interface FindingShort {
  readonly entry: string;
  readonly part: string;
  readonly finding: string;
  readonly class: string | null;
  readonly urgency: string | null;
  readonly out_of_use: boolean;
  readonly grade: Grade;
  readonly since: Since;
}

export interface HoldRow {
  readonly hold: string;
  readonly begun: string | null;
  readonly cause: string;
  readonly goes: Goes;
  readonly reason: string | null;
  readonly tag_on: boolean | null;
  readonly note: string | null;
  readonly decided: string | null;
  readonly standing: boolean;
  readonly person: string;
  readonly station: string | null;
  readonly at: string;
}

/** A word about a hold beside its decisions. */
export interface HoldWord {
  readonly entry: string;
  readonly what: "phoned" | "escalated" | "advised";
  readonly person: string;
  readonly at: string;
  readonly said: {
    readonly words?: string; readonly goes?: Goes; readonly first?: First; readonly phone?: { readonly who: string; readonly at: string };
    readonly to?: readonly string[]; readonly by?: string;
  };
}

/** What somebody was asked to do themself. `first`: of a second opinion that was given, what was said before. */
export interface AskedRow {
  readonly entry: string;
  readonly what: "look_again" | "second_opinion" | "correct";
  readonly to: string | null;
  readonly parts: readonly string[];
  readonly reason: string;
  readonly open: boolean;
  /** Chance asked, not a lead. */
  readonly drawn: boolean;
  readonly person: string;
  readonly at: string;
  readonly answers: readonly {
    readonly did: "done" | "seen" | "not_done" | "dropped"; readonly finding: string | null; readonly grade: string | null; readonly words: string | null;
    readonly person: string; readonly counts: boolean;
  }[];
  readonly first: { readonly finding: string; readonly grade: string; readonly person: string } | null;
}

/** `GET /lead/holds/{hold}`. `fixed`: policy rows that nobody may decide against before a newer look or test. */
export interface HoldPage {
  readonly hold: HoldRow;
  readonly scope: Scope | null;
  readonly root: string | null;
  readonly point: string | null;
  readonly fixed: readonly string[];
  readonly decisions: readonly { readonly goes: Goes; readonly first: First; readonly reason: string; readonly person: string; readonly at: string }[];
  /** Rows of the policy that spoke, each with whom it wants told. */
  readonly spoke: readonly { readonly row: string; readonly source: string; readonly tell: readonly string[] }[];
  readonly sent_back: { readonly cleanings: number; readonly dryings: number; readonly cleanings_days: number | null; readonly days: number | null };
  readonly said: readonly HoldWord[];
  /** Of `said`: by phone and not confirmed; brought before somebody without an answer. */
  readonly by_phone: readonly string[];
  readonly waits: readonly string[];
  readonly asked: readonly AskedRow[];
  readonly second_opinion: boolean;
  readonly duties: { readonly aware: string; readonly report_by: string; readonly keep_until: string; readonly source: string };
  readonly people: readonly Person[];
}

type Counts = Readonly<Record<Mark, number>>;
type State = "begun" | "concluded" | "abandoned";

export interface Line {
  readonly root: string;
  readonly scope: Scope;
  readonly point: string;
  readonly practice: boolean;
  readonly begun_at: string;
  readonly ended_at: string | null;
  readonly people: readonly string[];
  readonly stations: readonly (string | null)[];
  readonly state: State;
  readonly open_parts: number;
  readonly first: First | null;
  readonly goes: Goes | null;
  readonly suggested: { readonly first: First; readonly goes: Goes } | null;
  readonly counts: Counts;
  readonly total: number;
  readonly stops: readonly StopShort[];
  readonly findings: readonly FindingShort[];
  readonly failed_test: boolean;
  readonly photos: { readonly all: number; readonly waiting: number };
  readonly marked: { readonly parts: number; readonly as_zone: number; readonly seconds: number };
  readonly points: readonly Point[];
  readonly disinfection: Disinfection | null;
}

/** A shift in numbers, as `record/kinds.py` has it. */
export interface ShiftCounts {
  readonly inspections: number; readonly not_concluded: number; readonly abandoned: number;
  readonly nothing_found: number; readonly with_finding: number; readonly out_of_use: number;
  readonly first_nothing: number; readonly first_dry: number; readonly first_clean: number; readonly first_whole: number;
  readonly goes_on: number; readonly goes_hold: number; readonly goes_repair: number;
  readonly parts: Counts;
  readonly findings: number; readonly photos: number; readonly photos_waiting: number; readonly holds: number; readonly aside: number; readonly scopes: number;
}

/** What stands open, or did: `of` names it by its sort, `about` holds ids and numbers of it. */
export interface ShiftRow {
  readonly sort: "inspection" | "photos" | "aside" | "hold" | "offer" | "tool" | "station" | "skipped" | "received" | "late" | "asked";
  readonly of: string;
  readonly state: "open" | "without" | "carried" | "settled";
  readonly about: Readonly<Record<string, unknown>>;
  readonly answer: { readonly answer: string; readonly reason: string | null; readonly owner: string | null; readonly person: string; readonly at: string } | null;
  readonly before: { readonly shift: string; readonly reason: string | null; readonly owner: string | null } | null;
}

export interface ShiftLine {
  readonly root: string;
  readonly scope: string;
  readonly point: string;
  readonly at: string;
  readonly people: readonly string[];
  readonly state: State;
  readonly first: First | null;
  readonly goes: Goes | null;
  readonly counts: Counts;
  readonly findings: number;
  readonly out_of_use: boolean;
  readonly photos: number;
  readonly waiting: number;
}

/** What logs of washers said in a shift's hours, against what was looked at. */
export interface Logged {
  readonly files: readonly { readonly file: string; readonly rows: number; readonly in_hours: number; readonly not_placed: number }[];
  readonly count: number;
  readonly not_looked_count: number;
  readonly not_looked: readonly string[];
  readonly not_logged_count: number;
  readonly not_logged: readonly string[];
}

interface Came { readonly count: number; readonly how: "scans" | "counted"; readonly looked: number; readonly not_looked: readonly string[]; readonly logged?: Logged }

/** `GET /lead/shift`: the board of a shift, or how it was closed and what came later. */
export interface Shift {
  readonly position: number;
  readonly shift: string;
  readonly begins_ms: number;
  readonly ends_ms: number;
  readonly before: { readonly shift: string; readonly closed: boolean } | null;
  readonly counts: ShiftCounts;
  readonly came: Came;
  readonly rows: readonly ShiftRow[];
  readonly inspections: readonly ShiftLine[];
  readonly closed: {
    readonly closing: string; readonly person: string; readonly at: string;
    readonly body: {
      readonly meaning: "reviewed" | "for_another"; readonly counts: ShiftCounts; readonly came: Came; readonly note?: string;
      readonly exceptions: readonly { readonly sort: ShiftRow["sort"]; readonly answer: string; readonly count: number; readonly reason?: string; readonly owner?: string }[];
      readonly heads: readonly { readonly chain: string; readonly seq: number; readonly hash: string }[];
    };
    readonly late: readonly { readonly entry: string; readonly kind: string; readonly chain: string; readonly person: string; readonly at: string }[];
    readonly noted: readonly { readonly entries: number; readonly person: string; readonly at: string; readonly note: string | null }[];
  } | null;
  readonly last: { readonly shift: string; readonly person: string; readonly at: string; readonly note: string | null } | null;
  readonly scopes: Readonly<Record<string, Scope>>;
  readonly stations: Readonly<Record<string, string>>;
  readonly chains: Readonly<Record<string, string>>;
  readonly people: readonly Person[];
}

/** `GET /lead/history`: one scope's life, a page of it newest first, and what an auditor asks first. */
interface Happened {
  readonly at_ms: number;
  readonly entry: string;
  readonly person: string;
  readonly station?: string | null;
}
export interface HistoryLook extends Happened {
  readonly what: "look";
  readonly point: string;
  readonly state: State;
  readonly first: First | null;
  readonly goes: Goes | null;
  readonly out_of_use: boolean;
  readonly counts: Readonly<Record<string, number>>;
  readonly findings: readonly { readonly part: string; readonly finding: string; readonly grade: string }[];
  readonly failed: readonly string[];
  readonly photos: number;
}
export type HistoryRow =
  | HistoryLook
  | (Happened & { readonly what: "step"; readonly step: string; readonly place: string; readonly machine: string | null; readonly cycle: string | null })
  | (Happened & {
    readonly what: "hold"; readonly cause: string; readonly reason: string | null; readonly note: string | null;
    readonly decided: readonly { readonly goes: Goes; readonly reason: string; readonly person: string; readonly at_ms: number }[];
    readonly said: readonly Pick<HoldWord, "what" | "said" | "person">[];
  })
  | (Happened & Pick<AskedRow, "to" | "reason" | "open" | "drawn"> & {
    readonly what: "asked"; readonly asked: AskedRow["what"]; readonly answers: readonly { readonly did: string; readonly person: string; readonly words: string | null }[];
  })
  | (Happened & { readonly what: "repair"; readonly said: string; readonly words: string | null; readonly differs?: readonly Difference[] })
  | (Happened & { readonly what: "custody"; readonly said: string; readonly holder: { readonly kind: string; readonly name: string } | null; readonly photos?: readonly HandedPhoto[] })
  | (Happened & { readonly what: "record"; readonly said: string });
export interface HistoryReading {
  readonly at_ms: number;
  readonly entry: string;
  readonly result: string;
  readonly person: string;
  readonly pressure_pa: number | null;
  readonly held_s: number | null;
  readonly value_thousandths: number | null;
  readonly limit_thousandths: number | null;
  readonly unit: string | null;
  readonly meter: string | null;
  readonly lot: string | null;
  readonly reason: string | null;
}
export interface History {
  readonly scope: Scope;
  readonly last: {
    readonly look: (HistoryLook & {
      readonly people: readonly string[]; readonly tools: readonly string[];
      readonly unseen: readonly { readonly part: string; readonly mark: "not_looked" | "could_not_look"; readonly reasons: readonly string[] }[];
    }) | null;
    readonly readings: Readonly<Record<string, HistoryReading>>;
  };
  readonly rows: readonly HistoryRow[];
  readonly more: boolean;
  readonly people: readonly Person[];
}
export interface HistoryPart {
  readonly part: string;
  readonly parts: readonly string[];
  readonly photos: readonly {
    readonly sha256: string; readonly when_ms: number; readonly begun: string; readonly root: string | null; readonly here: boolean;
    readonly person: string; readonly station: string | null; readonly taken: Taken | null; readonly laid?: Laid;
    readonly findings: readonly { readonly finding: string; readonly grade: string; readonly since: string }[];
  }[];
  readonly series: Readonly<Record<string, readonly HistoryReading[]>>;
}

/** `GET /lead/find`: the scopes that the words name, and a page of inspections. */
export interface Found {
  readonly scopes: readonly Scope[];
  readonly looks: readonly (Omit<HistoryLook, "what" | "entry" | "counts" | "failed" | "photos" | "station"> & { readonly root: string; readonly scope: Scope; readonly shift: string })[];
  readonly next: number | null;
  readonly people: readonly Person[];
  readonly places: readonly string[];
}

/** The processing that a look before use leaned on, as all chains say by now. */
export interface Disinfection {
  readonly entry: string;
  readonly at_ms: number;
  readonly place?: string;
  readonly machine?: string;
  readonly cycle?: string;
}

/** A scope that waits for its next step, or is past a limit of the policy in force. */
export interface CycleRow {
  readonly scope: Scope;
  readonly phase: string;
  readonly since_ms: number;
  readonly place: string;
  readonly first: First | null;
  readonly over: readonly {
    readonly row: string; readonly span: string; readonly minutes: number | null; readonly from_ms: number; readonly first: First | null;
    readonly source: string;
  }[];
}

export interface Heard {
  readonly name: string;
  readonly place: string;
  readonly heard_at: string | null;
}

export interface Today {
  readonly position: number;
  readonly shifts: readonly string[];
  /** Whether these are the shifts that run now. */
  readonly runs: boolean;
  /** The last shift before with an inspection in it. */
  readonly before: string | null;
  readonly facility: { readonly name: string; readonly zone: string };
  readonly inspections: readonly Line[];
  readonly cycle: readonly CycleRow[];
  readonly holds: readonly (HoldRow & { readonly scope: Scope | null; readonly phoned: readonly Goes[]; readonly waits: readonly string[] })[];
  /** Photos that a lead asked to have erased; another lead agrees to each, or shows it again. */
  readonly erasures: readonly { readonly asked: string; readonly photo: string; readonly person: string; readonly at: string; readonly root: string | null; readonly scope: Scope | null }[];
  /** Out for repair past the day that was said, or past the facility's limit. */
  readonly overdue: readonly { readonly scope: Scope; readonly since_ms: number; readonly late: "day" | "limit" }[];
  readonly aside: number;
  readonly stations: readonly (Heard & { readonly side: string })[];
  readonly people: readonly Person[];
}

/** Who wrote an entry, when, how proved, where. `entry` is its hash for ever. */
export interface By {
  readonly entry: string;
  readonly version: string;
  readonly chain: string;
  readonly seq: number;
  readonly station: string | null;
  readonly person: string;
  readonly how: string;
  readonly proved: string;
  readonly build: string;
  readonly at: string;
  readonly received_at: string;
}

export interface Wrote {
  readonly by: By;
  readonly begun: string;
}

export interface PartRow extends Wrote {
  readonly identified_by: string;
  readonly identified_text: string | null;
  readonly symbology: string | null;
  readonly proves: string;
  readonly catalogue: string;
  readonly policy: string;
  readonly shift: string;
  readonly practice: boolean;
}

export interface SerialRow extends Wrote {
  readonly held_by: string;
  readonly agrees: string;
  readonly code: string | null;
  readonly last_four: string | null;
  readonly serial_where: string | null;
}

export interface SerialReading extends Wrote {
  readonly photo: string;
  readonly code: string;
}

export interface StopMark extends Wrote {
  readonly mark: Mark;
  readonly zone: string | null;
  readonly reason: string | null;
  readonly tool: string | null;
}

/** What one entry lays over one photo. */
export interface LaidRow extends Wrote, Laid {
  readonly photo: string;
}

/** A photo of before that a finding is held against. */
export interface ThenRow {
  readonly of: "last" | "acceptance" | "first";
  readonly sha256: string;
  readonly when_ms: number;
  readonly here: boolean;
  readonly laid?: Laid;
}

export interface FindingRow extends FindingShort, Wrote {
  readonly place_mm: number | null;
  readonly place_end: PlaceEnd | null;
  readonly place_known: PlaceKnown | null;
  readonly compared: string | null;
  /** Both photos stood on the screen together before "same" or "worse" was said. */
  readonly beside: { readonly before: string; readonly now: string; readonly size: "small" | "large"; readonly laid?: string } | null;
  readonly note: string | null;
}

export interface ReadingRow extends Wrote {
  readonly what: string;
  readonly result: string;
  readonly failed: boolean;
  readonly steps: readonly string[];
  readonly parts: readonly string[];
  readonly zone: string | null;
  readonly reason: string | null;
  readonly pressure_pa: number | null;
  readonly held_s: number | null;
  readonly value_thousandths: number | null;
  readonly limit_thousandths: number | null;
  readonly meter: string | null;
  readonly lot: string | null;
  readonly unit: string | null;
  readonly note: string | null;
}

export interface ChannelRow extends Wrote {
  readonly channel: string;
  readonly outcome: string;
  readonly way: string | null;
  readonly borescope: string | null;
  readonly reached_mm: number | null;
  readonly length_mm: number | null;
  readonly known: string | null;
  readonly flow: string | null;
  readonly reason: string | null;
}

/** How a photo was taken, as its entry says it. */
export interface Taken {
  readonly way: "file" | "live" | "sheet";
  readonly told?: readonly Against[];
  readonly sharp_permille?: number;
  readonly of?: number;
  readonly at?: string;
  readonly camera?: string;
  readonly tool?: string;
}

export interface PhotoRow extends Wrote, Pick<FindingRow, "place_mm" | "place_end" | "place_known"> {
  readonly sha256: string;
  readonly part: string;
  readonly shows: string;
  readonly of_finding: string | null;
  /** How it was taken, and what was told of it then; nothing of a photo that an older tablet took. */
  readonly taken: Taken | null;
  readonly here: boolean;
  readonly restricted: boolean;
  /** Two leads had its bytes erased; then it is not here, and never will be. */
  readonly erased: boolean;
  /** Who hid it, showed it again, looked at it or had it erased, in order; nothing for nearly every photo. */
  readonly hiding: readonly HidingAct[];
}

export interface HidingAct {
  readonly entry: string;
  readonly kind: "photo.restricted" | "photo.hidden" | "photo.shown_again" | "photo.opened" | "photo.erasure_asked" | "photo.erased";
  readonly person: string;
  readonly station: string | null;
  readonly at: string;
  /** The entry that hides it no more, or whose wish was done. */
  readonly ends: string | null;
  readonly reason: string | null;
}

/** `GET /lead/examples`: the photos that stand as this facility's own examples. */
export interface ExamplesPage {
  readonly position: number;
  readonly examples: readonly {
    readonly example: string; readonly photo: string; readonly finding: string; readonly grade: Grade; readonly note: string | null;
    readonly person: string; readonly at: string; readonly hidden: boolean; readonly here: boolean; readonly scope: string; readonly laid?: Laid;
  }[];
  readonly people: readonly Person[];
}

export interface DecisionRow extends Wrote {
  readonly ended: string;
  readonly first: First | null;
  readonly goes: Goes | null;
  readonly suggested_first: First | null;
  readonly suggested_goes: Goes | null;
  readonly tag_on: boolean | null;
  readonly reason: string | null;
  readonly note: string | null;
  /** The entry of the processing that the person leaned on. */
  readonly disinfection: string | null;
}

export interface SpokenRow {
  readonly row: string;
  readonly entry: string | null;
  readonly fact: Readonly<Record<string, unknown>>;
  readonly first: First | null;
  readonly goes: Goes | null;
  readonly override: boolean | null;
  readonly source: string | null;
}

export interface Suggested {
  readonly first: First;
  readonly goes: Goes;
  readonly rows: readonly SpokenRow[];
}

export interface Page {
  readonly laid: readonly LaidRow[];
  /** By part with a finding. */
  readonly then: Readonly<Record<string, readonly ThenRow[]>>;
  readonly position: number;
  readonly root: string;
  readonly facility: string;
  readonly scope: Scope;
  readonly point: string;
  readonly state: State;
  readonly first: First | null;
  readonly goes: Goes | null;
  readonly disinfection: Disinfection | null;
  readonly suggested: Suggested | null;
  readonly counts: Counts;
  readonly total: number;
  readonly parts: readonly PartRow[];
  readonly serials: readonly SerialRow[];
  /** What the server read in serial photos and found to be another number than that of the scope. */
  readonly serial_readings: readonly SerialReading[];
  readonly route: readonly (StopShort & { readonly marks: readonly StopMark[] })[];
  readonly findings: readonly FindingRow[];
  readonly readings: readonly ReadingRow[];
  readonly channels: readonly ChannelRow[];
  readonly photos: readonly PhotoRow[];
  readonly decisions: readonly DecisionRow[];
  readonly holds: readonly HoldRow[];
  readonly not_seen: readonly { readonly part: string; readonly mark: Mark; readonly reasons: readonly string[] }[];
  readonly points: readonly Point[];
  readonly corrections: readonly Correction[];
  readonly disputed: readonly string[];
  readonly taken_back: readonly TakenBack[];
  readonly stations: readonly Heard[];
  readonly people: readonly Person[];
}

export interface Correction {
  readonly entry: string;
  readonly version: string;
  readonly builds_on: string;
  readonly kind: string;
  readonly person: string;
  readonly station: string | null;
  readonly at: string;
  /** The rows as they stood before: named fields of the kind. */
  readonly reason: string | null;
  readonly before: readonly (Wrote & Readonly<Record<string, unknown>>)[];
}

export interface TakenBack {
  readonly entry: string;
  readonly kind: string;
  readonly at: string;
  readonly station: string | null;
  readonly person: string;
  readonly taken_back_at: string;
  readonly reason: string | null;
}

export interface AsideRow {
  readonly position: number;
  readonly hash: string;
  readonly chain: string;
  readonly seq: number;
  readonly kind: string | null;
  readonly at: string | null;
  readonly person: string | null;
  readonly scope: string | null;
  readonly reason: string;
  readonly received_at: string;
  /** Let in by a lead; what `reason` says still stands against it. */
  readonly settled: "count" | null;
  readonly station: string | null;
}

/** Whole lines of a forked chain, kept beside it. */
export interface StrayRow {
  readonly chain: string;
  readonly lines: number;
  readonly first_seq: number;
  readonly last_seq: number;
  readonly received_at: string;
  readonly station: string | null;
}

/** What became of the file of a tablet that cannot send. */
export interface TakenIn {
  readonly station: string;
  readonly entries: { readonly stored: number; readonly already: number; readonly aside: number; readonly stray: number };
  readonly photos: { readonly stored: number; readonly already: number };
  readonly refused: readonly { readonly of: string; readonly code: string; readonly so: string; readonly safe: string; readonly next: string }[];
  readonly whole: boolean;
}

export interface StationRow {
  readonly station: string;
  readonly name: string;
  readonly place: string;
  readonly side: "dirty" | "clean" | "both";
  readonly points: readonly string[];
  readonly revoked: boolean;
  readonly enrolled_at: string;
  readonly seen_at: string | null;
  readonly chain: string;
  readonly head: { readonly seq: number; readonly hash: string | null; readonly received_at: string | null };
  readonly build: string | null;
}

export interface PersonRow {
  readonly person: string;
  readonly name: string | null;
  readonly initials: string | null;
  readonly roles: readonly Role[];
  readonly active: boolean;
  readonly pin_by_lead: boolean;
  readonly has_pin: boolean;
  readonly stopped_at: readonly string[];
}

/** `GET /door/me`. */
export interface Me {
  readonly person: string;
  readonly name: string;
  readonly initials: string;
  readonly roles: readonly Role[];
  readonly station: string;
  /** Sign-ins of others that a recovery code opened, and this lead has not said to have seen. */
  readonly told?: readonly { readonly entry: string; readonly person: string; readonly name: string | null; readonly station: string | null; readonly at: string; readonly by: "recovery_code" | "server_machine" }[];
}

/** A one-time code for one tablet. `link` opens the app there with the code filled in; `qr` is that link's picture. */
export interface Invited {
  readonly code: string;
  readonly until: string;
  readonly link: string;
  readonly qr: { readonly rows: readonly string[] };
}

export interface WhereHolder {
  readonly kind: "house" | "person" | "place" | "outside";
  readonly name: string;
}

/** One word that nothing known builds on. */
export interface WhereTip {
  readonly entry: string;
  readonly what: "offered" | "accepted" | "declined" | "returned" | "taken_back" | "settled";
  readonly person: string;
  readonly at_ms: number;
  readonly holder: WhereHolder | null;
  readonly place?: string | null;
  readonly reason?: string | null;
  readonly photos?: readonly HandedPhoto[];
}

/** A photo of a waybill, a signature, or a case in somebody's hands. */
export type HandedPhoto = Pick<PhotoRow, "sha256" | "here" | "restricted" | "erased">;

/** Who outside the house took a scope, and what their papers said. */
export interface HandedOver {
  readonly entry: string;
  readonly person: string;
  readonly at_ms: number;
  readonly holder: WhereHolder | null;
  readonly firm: string | null;
  readonly waybill: string | null;
  readonly photos: readonly HandedPhoto[];
}

/** Who has a scope now, and the words that say so. */
export interface WhereRow {
  readonly scope: Scope;
  readonly is: "disputed" | "offered" | "hold" | "shipped" | "outside" | "back" | "repair" | "loaned" | "person" | "place" | "in_use" | "cleaning" | "drying" | "taken" | "hung" | "house";
  readonly holder: WhereHolder | null;
  readonly to: WhereHolder | null;
  readonly since_ms: number;
  readonly why: string | null;
  /** Words whose basis has not come yet. */
  readonly waiting: number;
  /** Offers that were taken off their giver's screen, and whose own entries have not come. */
  readonly unseen: readonly { readonly giver: string; readonly at_ms: number }[];
  readonly tips: readonly WhereTip[];
  readonly held: boolean;
  /** The last step or look of its cycle, and when. */
  readonly phase: string;
  readonly phase_ms: number;
  readonly place: string;
  readonly repair: null | { readonly stage: string; readonly carrier?: string; readonly number?: string; readonly expected_back?: string };
  readonly loan: null | { readonly stage: Loaner["stage"]; readonly owner?: string; readonly until?: string };
  /** The scope that a loan stands in for. */
  readonly for: TiedScope | null;
  readonly instead: readonly LentScope[];
}

/** The scope that a loan stands in for; `stage` of its repair, null where none stands. */
export interface TiedScope {
  readonly scope: Scope;
  readonly stage: string | null;
  readonly may_go_back: boolean;
}

/** A loan that stands in for a scope: whose it is, until when. */
export interface LentScope {
  readonly scope: Scope;
  readonly stage: Loaner["stage"];
  readonly said: { readonly owner?: string; readonly until?: string };
}

export interface Where {
  readonly rows: readonly WhereRow[];
  readonly counts: Readonly<Record<string, number>>;
  readonly more: boolean;
  readonly people: readonly { readonly id: string; readonly name: string; readonly initials: string }[];
  readonly places: readonly string[];
}

/** One word about a repair, as the server read it. */
export interface RepairWordRow extends RepairEvent {
  readonly inspections: readonly string[];
  readonly case: readonly string[];
}

export interface LoanerRow extends Loaner {
  readonly scope: WhereRow["scope"];
  readonly for: TiedScope | null;
  readonly person: string;
}

export interface RepairRow extends Repair {
  readonly scope: WhereRow["scope"];
  readonly words: readonly RepairWordRow[];
  readonly differs: readonly Difference[];
  /** Who outside took it since its repair stands. */
  readonly handed: readonly HandedOver[];
  /** What stands in for it. */
  readonly instead: readonly LentScope[];
  /** Rows of the policy that say it is out for too long. */
  readonly over: readonly { readonly row: string; readonly minutes: number | null; readonly from_ms: number; readonly source: string }[];
  /** A hold of it stands: a release does not end it. */
  readonly held: boolean;
  readonly is: WhereRow["is"];
  readonly holder: WhereHolder | null;
}

export interface Repairs {
  readonly rows: readonly RepairRow[];
  readonly loaners: readonly LoanerRow[];
  readonly people: Where["people"];
}
