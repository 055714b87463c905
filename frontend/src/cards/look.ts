/** Look-ups in what the tablet carries, by index. An answer is a list: it never guesses which scope is meant. */
import { meta } from "../record/meta";
import { read } from "../record/store";
import { bare, type HoldCard, type OpenCard, type PersonCard, type ScopeCard, type StationCard, type Table } from "./rows";

function whole(table: Table): IDBKeyRange {
  return IDBKeyRange.bound([table], [table, []]);
}

async function all<T>(table: Table): Promise<readonly T[]> {
  const rows = await read(["cards"], (tx) => tx.objectStore("cards").getAll(whole(table)));
  return rows.map((row) => row.row as T);
}

async function byWord<T>(word: string): Promise<readonly T[]> {
  const rows = await read(["cards"], (tx) => tx.objectStore("cards").index("words").getAll(word));
  return rows.map((row) => row.row as T);
}

/** The hospital's name, IANA time zone and shift hours. */
export interface FacilityCard {
  readonly name: string;
  readonly zone: string;
  readonly shifts: readonly { readonly name: string; readonly begins: string; readonly ends: string }[];
}

/** The facility as the newest cards say, else as it was told at enrolment. */
export async function facilityNow(): Promise<FacilityCard | undefined> {
  const row = await read(["cards"], (tx) => tx.objectStore("cards").get(["facility", ""]));
  return (row?.row ?? (await meta("station"))?.facility) as FacilityCard | undefined;
}

/** People who may act here, by name. */
export async function people(): Promise<readonly PersonCard[]> {
  const rows = await all<PersonCard>("people");
  return rows.filter((row) => row.active).sort((a, b) => a.name.localeCompare(b.name));
}

export async function stations(): Promise<readonly StationCard[]> {
  return all<StationCard>("stations");
}

export async function scopeByKey(key: string): Promise<ScopeCard | undefined> {
  const row = await read(["cards"], (tx) => tx.objectStore("cards").get(["scopes", key]));
  return row?.row as ScopeCard | undefined;
}

/** The scopes that were seen at this place of late, with what is known of their parts. */
export async function scopesNear(): Promise<readonly ScopeCard[]> {
  return (await all<ScopeCard>("scopes")).filter((scope) => scope.near === true);
}

/** A scope that may be meant, and what it was found by. `tag` proves the tag, not the scope. */
export interface Candidate {
  readonly scope: ScopeCard;
  readonly by: "key" | "code" | "tag" | "serial" | "di";
}

/** What a reader or a person gave: any of these. */
export interface Wanted {
  readonly key?: string;
  /** A code as read, taken whole. */
  readonly code?: string;
  readonly tag?: string;
  readonly serial?: string;
  readonly di?: string;
}

/** The scopes that fit, the surest first, each once. Two or more = ask; none = not on record here. */
export async function findScope(wanted: Wanted): Promise<readonly Candidate[]> {
  const found: Candidate[] = [];
  const add = (by: Candidate["by"], scopes: readonly ScopeCard[]): void => {
    for (const scope of scopes) {
      if (!found.some((one) => one.scope.scope === scope.scope)) found.push({ scope, by });
    }
  };
  if (wanted.key !== undefined) {
    const scope = await scopeByKey(wanted.key);
    if (scope !== undefined) add("key", [scope]);
  }
  for (const by of ["code", "tag", "serial", "di"] as const) {
    const text = wanted[by];
    if (text !== undefined && bare(text) !== "") add(by, await byWord<ScopeCard>(`${by} ${bare(text)}`));
  }
  return found;
}

/** Scopes whose serial number or tag begins with what was typed, at most `most`. */
export async function scopesByName(typed: string, most = 20): Promise<readonly ScopeCard[]> {
  const begin = bare(typed);
  if (begin === "") return [];
  const rows = await read(["cards"], async (tx) => {
    const index = tx.objectStore("cards").index("words");
    const starts = ["tag", "serial"].map((by) => `${by} ${begin}`);
    return (await Promise.all(starts.map((start) => index.getAll(IDBKeyRange.bound(start, `${start}\uffff`), most)))).flat();
  });
  const scopes = new Map(rows.map((row) => [row.id, row.row as ScopeCard]));
  return [...scopes.values()].slice(0, most);
}

/** Open holds on a scope, as known here. */
export function holdsOf(scope: string): Promise<readonly HoldCard[]> {
  return byWord<HoldCard>(`holds ${scope}`);
}

/** Inspections of a scope that stand open, as known here. */
export function openOf(scope: string): Promise<readonly OpenCard[]> {
  return byWord<OpenCard>(`open ${scope}`);
}

/** Those of them that can be gone on with: none that this tablet ended and the server has not heard of yet. */
export async function openToGoOn(scope?: string): Promise<readonly OpenCard[]> {
  const cards = await (scope === undefined ? all<OpenCard>("open") : openOf(scope));
  return read(["entries", "open"], async (tx) => {
    const [hashes, open] = [tx.objectStore("entries").index("hash"), tx.objectStore("open")];
    const ended = await Promise.all(cards.map(async ({ parts }) => {
      const here = await Promise.all(parts.map(async ({ begun, ended: known }) =>
        !known && (await hashes.getKey(begun)) !== undefined && (await open.getKey(begun)) === undefined));
      return here.includes(true);
    }));
    return cards.filter((_, at) => ended[at] !== true);
  });
}
