/** The rows a tablet carries, as the server sends them. Unknown fields are kept and left alone. */
import type { Proof } from "../record/entry";
import type { Arrow, Length, Ring } from "../record/kinds";
import type { SentBack } from "../rules/again";
import type { CustodyEvent } from "../rules/custody";
import type { CycleEvent } from "../rules/cycle";
import type { RepairEvent } from "../rules/repair";

export type Role = "technician" | "runner" | "lead" | "deputy" | "auditor";

export interface PersonCard {
  readonly person: string;
  readonly name: string;
  readonly initials: string;
  readonly roles: readonly Role[];
  readonly active: boolean;
}

/** The newest look at one part: its mark, when, and its last photo. */
export interface PartCard {
  readonly part: string;
  readonly mark: "nothing_found" | "finding" | "could_not_look" | null;
  readonly looked_ms: number | null;
  readonly photo: PhotoCard | null;
  /** Its photo of the newest acceptance that was concluded, and its first of all. */
  readonly acceptance?: PhotoCard | null;
  readonly first?: PhotoCard | null;
  /** The newest finding that stands. */
  readonly finding?: { readonly finding: string; readonly grade: "present" | "minor" | "moderate" | "severe"; readonly when_ms: number; readonly place_mm: number | null; readonly place_end: "tip" | "body" | "port" | null } | null;
}

/** What stands over a photo, from whichever entries. */
export interface LaidCard {
  readonly rings: readonly Ring[];
  readonly arrows: readonly Arrow[];
  readonly lengths: readonly Length[];
}

export interface PhotoCard {
  readonly sha256: string;
  readonly type: string;
  readonly bytes: number;
  readonly when_ms: number;
  /** What lies over it, where anything does. */
  readonly laid?: LaidCard;
}

/** One channel of this scope, from its own instructions; what they do not give is left out. */
export interface ChannelCard {
  readonly channel: string;
  /** Inner diameter in thousandths of a millimetre. */
  readonly inner_um?: number;
  /** Port to outlet: the channel's own length. */
  readonly length_mm?: number;
  /** Stands for this scope in place of the catalogue's word. */
  readonly reach?: "borescope" | "flow" | "none";
}

export interface ScopeCard {
  /** `udi:DI/SERIAL` or `mms:MAKER|MODEL|SERIAL`. */
  readonly scope: string;
  readonly scope_kind: string;
  readonly serial: string;
  readonly di?: string | null;
  readonly maker?: string | null;
  readonly model?: string | null;
  readonly tag?: string | null;
  readonly codes: readonly string[];
  /** False = only registered on the spot: at acceptance before anything else. */
  readonly on_record?: boolean;
  /** False = only an index line: known by name, not seen here in 90 days. */
  readonly near?: boolean;
  readonly none_here?: readonly string[];
  /** Working length. */
  readonly tube_mm?: number | null;
  /** Outer diameter of the insertion tube in thousandths of a millimetre. */
  readonly tube_um?: number | null;
  readonly serial_where?: string | null;
  readonly channels?: readonly ChannelCard[];
  readonly instructions?: { readonly title: string; readonly edition?: string; readonly dated?: string } | null;
  /** The last inspection that was concluded. */
  readonly last?: { readonly root: string; readonly point: string; readonly first: string; readonly goes: string; readonly at: string } | null;
  /** How often it was sent back to cleaning in this cycle. */
  readonly cleanings?: number;
  /** How often it was sent back to drying in this cycle. */
  readonly dryings?: number;
  /** The looks that sent it back to cleaning within the days of the policy in force, in whatever cycle; newest first. */
  readonly sent_back?: readonly SentBack[];
  /** Per point: when its last cycles were concluded, newest first, ms UTC; only where the facility counts in cycles. */
  readonly cycles_ms?: Readonly<Record<string, readonly number[]>>;
  /** The last serial photo that did not contradict, shown as the guide. */
  readonly serial_photo?: { readonly photo: string; readonly where: string | null; readonly at: string } | null;
  readonly parts?: readonly PartCard[];
}

/** The newest steps and concluded looks of a scope, wherever they were. */
export interface CycleCard {
  readonly scope: string;
  readonly events: readonly CycleEvent[];
}

/** Who has a scope, in as few words as say so; `counted`: the beginning of the hash of each that was taken in. */
export interface CustodyCard {
  readonly scope: string;
  readonly events: readonly CustodyEvent[];
  readonly counted: readonly string[];
}

/** A word about a repair, with the inspections whose findings go along. */
export interface RepairSaid extends RepairEvent {
  readonly inspections: readonly string[];
  /** Photos of the packed case. */
  readonly case?: readonly string[];
}

/** What stands of a scope's repair; `counted`: the beginning of the hash of each word that was taken in. */
export interface RepairCard {
  readonly scope: string;
  readonly serial_photo: boolean;
  readonly events: readonly RepairSaid[];
  /** When a lead closed a repair of it as done last; 0 or not there: none was. */
  readonly released_ms?: number;
  readonly counted: readonly string[];
}

export interface HoldCard {
  /** The entry that placed it; null where it follows from a suggestion made stricter since. */
  readonly hold: string | null;
  readonly scope: string;
  readonly begun: string | null;
  readonly cause: string;
  readonly goes: string;
  readonly reason: string | null;
  readonly tag_on: boolean | null;
  readonly note: string | null;
  readonly decided: boolean;
  readonly person: string | null;
  readonly at: string;
  /** A lead's words by phone that no lead confirmed yet. */
  readonly phoned?: readonly { readonly who: string; readonly at: string; readonly goes: string; readonly first: string; readonly words: string; readonly person: string }[];
}

/** What a lead asks somebody to do themself. Of a second opinion nothing that was said before. */
export interface AskedCard {
  readonly asked: string;
  readonly what: "look_again" | "second_opinion" | "correct";
  readonly scope: string;
  /** The entry it is about; null where that would say what was said first. */
  readonly of: string | null;
  readonly to: string | null;
  readonly not_by: readonly string[];
  readonly parts: readonly string[];
  readonly photos: readonly string[];
  readonly reason: string;
  /** Chance asks, not a lead. */
  readonly drawn?: boolean;
  readonly person: string;
  readonly at: string;
}

/** One station's part of an inspection that stands open. */
export interface OpenPartCard {
  readonly begun: string;
  readonly chain: string;
  readonly station: string | null;
  readonly person: string;
  readonly at: string;
  readonly ended: boolean;
  readonly marks: readonly { readonly part: string; readonly mark: "nothing_found" | "finding" | "could_not_look"; readonly entry: string }[];
}

/** An inspection somewhere that is not concluded, with what every part of it has marked. */
export interface OpenCard {
  readonly root: string;
  readonly scope: string;
  readonly scope_kind: string;
  readonly point: string;
  readonly parts: readonly OpenPartCard[];
}

export interface StationCard {
  readonly station: string;
  readonly name: string;
  readonly place: string;
  readonly side: "dirty" | "clean" | "both";
  readonly points: readonly string[];
  /** When the server last heard of it. */
  readonly seen_at?: string | null;
}

/** A borescope on record: sizes from its maker's instructions, when it was last used and processed (ms UTC). */
export interface ToolCard {
  /** The words on its own label, `LB1:T:<tool>`. */
  readonly tool: string;
  readonly what: string;
  readonly place: string;
  readonly width_um: number | null;
  readonly length_mm: number | null;
  readonly codes: readonly string[];
  readonly used_ms: number | null;
  readonly processed_ms: number | null;
}

/** A photo of the facility's own record that stands for a finding and grade. */
export interface ExampleCard {
  /** The entry that chose it. */
  readonly example: string;
  readonly photo: string;
  readonly finding: string;
  readonly grade: string;
  readonly note: string | null;
  readonly at: string;
  readonly laid?: LaidCard;
}

/** "As known at": how old what the tablet knows is. */
export interface CardsAt {
  readonly position: number;
  /** RFC 3339, this tablet's clock; undefined = nothing was fetched yet. */
  readonly at: string | undefined;
  /** Why the last try brought nothing, until one does. */
  readonly stopped: "no_answer" | "withdrawn" | "not_known" | undefined;
}

export interface SignedIn {
  readonly person: string;
  readonly name: string;
  readonly initials: string;
  readonly roles: readonly Role[];
  readonly proof: Proof;
}

/** Tables of the answer, and the field that names a row as it is kept here. */
export const TABLES = {
  people: "person", scopes: "scope", cycle: "scope", custody: "scope", repairs: "scope", holds: "hold", open: "root", stations: "station", tools: "tool",
  examples: "example", asked: "asked",
} as const;

export type Table = keyof typeof TABLES;
export type Row = Readonly<Record<string, unknown>>;

/** These come whole each time; scopes come as far as they changed, with all holds of each. */
export const WHOLE: readonly Table[] = ["people", "open", "stations", "tools", "examples", "asked"];

/** Where a station's own points did not come: those of its side. Common practice, no source. */
const POINTS_OF_SIDE: Readonly<Record<string, readonly string[]>> = {
  dirty: ["at_leak_test", "after_cleaning", "acceptance"],
  clean: ["after_drying", "before_use", "acceptance"],
  both: ["at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance"],
};

/** A row of the answer in the words of the cards above. */
export function shaped(table: Table, row: Row): Row {
  switch (table) {
    case "people":
      return { active: true, ...row, person: row["person"] ?? row["id"] };
    case "stations":
      return {
        ...row, station: row["station"] ?? row["id"], seen_at: row["seen_at"] ?? row["heard_at"],
        points: row["points"] ?? POINTS_OF_SIDE[String(row["side"])] ?? [],
      };
    case "scopes":
      return {
        ...row, scope_kind: row["scope_kind"] ?? row["kind"] ?? "", serial: row["serial"] ?? "", codes: row["codes"] ?? [],
        on_record: row["on_record"] === "described" || row["on_record"] === true,
      };
    default:
      return row;
  }
}

/** What a row is kept under. A hold without an entry of its own is the one of its scope. */
export function idOf(table: Table, row: Row): string | undefined {
  const id = row[TABLES[table]];
  if (typeof id === "string") return id;
  return table === "holds" && typeof row["scope"] === "string" ? `suggested ${row["scope"]}` : undefined;
}

/** How a code or number is held against a row: letters and digits alone, upper case. */
export function bare(text: string): string {
  return text.normalize("NFKC").toUpperCase().replaceAll(/[^\p{L}\p{N}]/gu, "");
}

function texts(...values: readonly unknown[]): readonly string[] {
  return values.flat().filter((value): value is string => typeof value === "string" && value !== "");
}

/** What a row is found by, each word with what it is. */
export function wordsOf(table: Table, row: Row): readonly string[] {
  if (table === "holds" || table === "open") return texts(row["scope"]).map((scope) => `${table} ${scope}`);
  if (table === "repairs") return (row["events"] as RepairCard["events"]).map(({ entry }) => `repair ${entry}`);
  if (table !== "scopes") return [];
  return [
    ...texts(row["codes"]).map((code) => `code ${bare(code)}`),
    ...texts(row["tag"]).map((tag) => `tag ${bare(tag)}`),
    ...texts(row["serial"]).map((serial) => `serial ${bare(serial)}`),
    ...texts(row["di"]).map((di) => `di ${bare(di)}`),
  ];
}
