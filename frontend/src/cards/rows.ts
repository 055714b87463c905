/** The rows a tablet carries, as the server sends them. Unknown fields are kept and left alone. */
import type { Proof } from "../record/entry";

export type Role = "technician" | "runner" | "lead" | "auditor";

export interface PersonCard {
  readonly person: string;
  readonly name: string;
  readonly initials: string;
  readonly roles: readonly Role[];
  readonly active: boolean;
}

/** The newest photo of a part, and the mark that stood beside it. */
export interface LastLook {
  readonly photo: string;
  readonly at: string;
  readonly mark: "nothing_found" | "finding" | "could_not_look";
  readonly finding?: string | null;
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
  readonly none_here: readonly string[];
  readonly tube_mm?: number | null;
  readonly serial_where?: string | null;
  /** The last serial photo that agreed, shown as the guide. */
  readonly serial_photo?: string | null;
  /** part -> its newest photo. */
  readonly last?: Readonly<Record<string, LastLook | undefined>>;
  /** False = only an index line: known by name, not seen here in 90 days. */
  readonly whole?: boolean;
  readonly retired?: boolean;
}

export interface HoldCard {
  readonly hold: string;
  readonly scope: string;
  readonly reason: string;
  readonly at: string;
  readonly person?: string;
}

/** An inspection somewhere that is not concluded, or was today. */
export interface OpenCard {
  readonly root: string;
  readonly scope: string;
  readonly point: string;
  readonly at?: string;
  readonly [field: string]: unknown;
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

/** Tables of the answer, the field that names a row, and the words it is found by. */
export const TABLES = {
  people: "person", scopes: "scope", holds: "hold", open: "root", stations: "station",
} as const;

export type Table = keyof typeof TABLES;
export type Row = Readonly<Record<string, unknown>>;

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
  if (table !== "scopes") return [];
  return [
    ...texts(row["codes"]).map((code) => `code ${bare(code)}`),
    ...texts(row["tag"]).map((tag) => `tag ${bare(tag)}`),
    ...texts(row["serial"]).map((serial) => `serial ${bare(serial)}`),
    ...texts(row["di"]).map((di) => `di ${bare(di)}`),
  ];
}
