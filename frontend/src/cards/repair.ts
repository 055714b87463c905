/** The repairs of scopes, as known here: what the cards carry and what this tablet wrote since. */
import { type OwnRepairWord, ownRepairs } from "../record/repair";
import { read } from "../record/store";
import { type Repair, type RepairEvent, repairOf } from "../rules/repair";
import { lastSerialPhoto } from "./then";
import type { RepairCard, RepairSaid } from "./rows";

export interface RepairHere {
  readonly scope: string;
  readonly repair: Repair;
  /** All that was said of it and stands, the oldest first. */
  readonly said: readonly RepairSaid[];
}

/** How many characters of a hash a card says of each word that it took in. */
const SHORT = 16;

/** The repair of a scope that stands; undefined where none does. */
export async function repairHere(scope: string): Promise<RepairHere | undefined> {
  const [card, own, serial] = await Promise.all([carried(scope), ownRepairs(scope), lastSerialPhoto(scope)]);
  return together(scope, card, own, serial !== undefined);
}

/** Every repair that stands, the longest first. */
export async function repairsHere(): Promise<readonly RepairHere[]> {
  const [cards, own] = await Promise.all([allCarried(), ownRepairs()]);
  const known = new Map(cards.map((card) => [card.scope, card]));
  const scopes = [...new Set([...known.keys(), ...own.map(({ scope }) => scope)])];
  const found = await Promise.all(scopes.map(async (scope) =>
    together(scope, known.get(scope), own.filter((word) => word.scope === scope), (await lastSerialPhoto(scope)) !== undefined)));
  return found.filter((each) => each !== undefined).sort((a, b) => a.repair.since_ms - b.repair.since_ms);
}

/** The scope of a repair that a label or a paper names by any of its words. */
export async function scopeOfRepair(entry: string): Promise<string | undefined> {
  const rows = await read(["cards"], (tx) => tx.objectStore("cards").index("words").getAll(`repair ${entry}`));
  const [row] = rows;
  if (row !== undefined) return row.id;
  return (await ownRepairs()).find(({ hash }) => hash === entry)?.scope;
}

/** What this tablet wrote stands in the place of what a card says of the same word; what a lead closed is in no card. */
function together(scope: string, card: RepairCard | undefined, own: readonly OwnRepairWord[], serialHere: boolean): RepairHere | undefined {
  const events = new Map<string, RepairSaid>((card?.events ?? []).map((event) => [event.entry, event]));
  const counted = new Set(card?.counted);
  for (const word of own) {
    if (!counted.has(word.hash.slice(0, SHORT)) || events.has(word.hash)) events.set(word.hash, eventOf(word));
  }
  const repair = repairOf(events.values(), serialHere || card?.serial_photo === true);
  if (repair === undefined) return undefined;
  return { scope, repair, said: [...events.values()].filter(({ undone }) => !undone).sort((a, b) => a.at_ms - b.at_ms) };
}

function eventOf({ hash, ms, what, person, repair, basis, undone, said, photos, inspections }: OwnRepairWord): RepairSaid {
  const event: RepairEvent = { entry: hash, what, person, at_ms: ms, repair, basis, over: [], undone, said, photos };
  return { ...event, inspections };
}

async function carried(scope: string): Promise<RepairCard | undefined> {
  const row = await read(["cards"], (tx) => tx.objectStore("cards").get(["repairs", scope]));
  return row?.row as RepairCard | undefined;
}

async function allCarried(): Promise<readonly RepairCard[]> {
  const rows = await read(["cards"], (tx) => tx.objectStore("cards").getAll(IDBKeyRange.bound(["repairs"], ["repairs", []])));
  return rows.map((row) => row.row as RepairCard);
}
