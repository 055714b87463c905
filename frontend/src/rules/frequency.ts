/**
 * What the facility's frequency table leaves out today. Pure: a table and what is known of the scope go in, part
 * ids come out. What is not known is due: a part without a look on record, a cycle nobody counted.
 */
import { sha256 } from "@noble/hashes/sha2.js";
import { utf8ToBytes } from "@noble/hashes/utils.js";

/**
 * How often some parts are looked at, for one kind of scope at one point; one of the three stands:
 * `every_days` n: not again before n days of 24 hours have gone by;
 * `every_cycles` n: in every nth inspection concluded at this point (1 = each);
 * `share_percent` n: on about n of 100 days of a scope, drawn by a hash (see `drawn`).
 */
export interface FrequencyRow {
  readonly scope_kind: string;
  readonly point: string;
  readonly parts: readonly string[];
  readonly every_days?: number;
  readonly every_cycles?: number;
  readonly share_percent?: number;
  readonly source: string;
}

export interface Frequency {
  readonly v: 1;
  readonly rows: readonly FrequencyRow[];
}

/** What is known of a scope when an inspection begins. Moments are ms UTC since 1970. */
export interface Known {
  readonly scope: string;
  readonly scopeKind: string;
  readonly point: string;
  readonly now: number;
  /** When each part was last looked at; a part that is not named never was. */
  readonly looked: ReadonlyMap<string, number>;
  /** When inspections at this point were last concluded; undefined = not known here. */
  readonly cycles: readonly number[] | undefined;
}

const DAY_MS = 86_400_000;

/** The parts that are not due: every row that names them says so. In the order of the table, each once. */
export function notDue(frequency: Frequency, known: Known): readonly string[] {
  const rows = frequency.rows.filter((row) => row.scope_kind === known.scopeKind && row.point === known.point);
  const named = [...new Set(rows.flatMap((row) => row.parts))];
  return named.filter((part) => rows.every((row) => !row.parts.includes(part) || leftOut(row, part, known)));
}

function leftOut(row: FrequencyRow, part: string, known: Known): boolean {
  if (row.share_percent !== undefined) return !drawn(row.share_percent, known);
  const looked = known.looked.get(part);
  if (looked === undefined) return false;
  if (row.every_days !== undefined) return known.now - looked < row.every_days * DAY_MS;
  if (row.every_cycles === undefined || known.cycles === undefined) return false;
  // The inspection that looked is concluded after the look, so it is the first of those counted.
  return known.cycles.filter((at) => at >= looked).length < row.every_cycles;
}

/**
 * Whether a look that is counted in days is due again after cleaning: a part was looked at, and its days are over.
 * What was never looked at is due at the first look anyway, and is no reminder.
 */
export function lookDue(frequency: Frequency, known: Pick<Known, "scopeKind" | "looked">, nowMs: number): boolean {
  return frequency.rows.some((row) => {
    const days = row.every_days;
    if (days === undefined || row.scope_kind !== known.scopeKind || row.point !== "after_cleaning") return false;
    return row.parts.some((part) => nowMs - (known.looked.get(part) ?? nowMs) >= days * DAY_MS);
  });
}

/**
 * Whether a scope is in the day's sample. Nobody can choose it: it hangs on the date (UTC), the scope and the
 * point alone, so beginning again, another tablet or another person changes nothing, and the next day is new.
 * The first 32 bits of SHA-256 over the three, against the share; anybody can work it out again from the record.
 */
export function drawn(sharePercent: number, known: Pick<Known, "scope" | "point" | "now">): boolean {
  const date = new Date(known.now).toISOString().slice(0, 10);
  const hash = sha256(utf8ToBytes(`loupebook/sample/1\n${date}\n${known.scope}\n${known.point}`));
  return new DataView(hash.buffer, hash.byteOffset).getUint32(0) * 100 < sharePercent * 2 ** 32;
}
