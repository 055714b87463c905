/** The repairs of scopes, and scopes on loan, as known here: what the cards carry and what this tablet wrote since. */
import { type OwnRepairWord, ownRepairs } from "../record/repair";
import { read } from "../record/store";
import { type Loaner, loanerOf, mayGoBack, type Repair, type RepairEvent, type RepairLook, repairOf, type RepairStage, type Stop, stopsUse, tieOf } from "../rules/repair";
import { looksHere } from "./cycle";
import { lastSerialPhoto } from "./then";
import type { RepairCard, RepairSaid } from "./rows";

export interface RepairHere {
  readonly scope: string;
  readonly repair: Repair;
  /** All that was said of it and stands, the oldest first. */
  readonly said: readonly RepairSaid[];
  /** Those of them that this tablet wrote: only they can be taken back here. */
  readonly own: ReadonlySet<string>;
}

export interface LoanerHere {
  readonly scope: string;
  readonly loaner: Loaner;
  /** What was said when it came, the newest last. */
  readonly said: readonly RepairSaid[];
}

/** A loan with the scope it stands in for: where the repair of that one is, and whether it is released since. */
export interface LentHere extends LoanerHere {
  readonly for: TiedHere | undefined;
}

export interface TiedHere {
  readonly scope: string;
  readonly stage: RepairStage | undefined;
  readonly may_go_back: boolean;
}

/** How many characters of a hash a card says of each word that it took in. */
const SHORT = 16;

/** The repair of a scope that stands; undefined where none does. */
export async function repairHere(scope: string): Promise<RepairHere | undefined> {
  const [card, own, serial, looks] = await Promise.all([carried(scope), ownRepairs(scope), lastSerialPhoto(scope), looksHere(scope)]);
  return together(scope, card, own, serial !== undefined, looks.get(scope) ?? []);
}

/** The loan of a scope that stands; undefined where it is nobody else's. */
export async function loanerHere(scope: string): Promise<LoanerHere | undefined> {
  const [card, own, looks] = await Promise.all([carried(scope), ownRepairs(scope), looksHere(scope)]);
  return lent(scope, saidOf(card, own), looks.get(scope) ?? []);
}

/** What stands in for a scope that is away, the one that came first before the others. */
export const insteadOf = ({ loaners }: AllHere, scope: string): readonly LentHere[] => loaners.filter((each) => each.for?.scope === scope);

/** Why a scope is not let go before use, as far as is known here; undefined where nothing stops it. */
export async function stopHere(scope: string): Promise<Stop | undefined> {
  const [away, lent] = await Promise.all([repairHere(scope), loanerHere(scope)]);
  return stopsUse(away?.repair, lent?.loaner);
}

export interface AllHere {
  readonly repairs: readonly RepairHere[];
  readonly loaners: readonly LentHere[];
}

/** Every repair and every loan that stands, the longest first. */
export async function repairsHere(): Promise<AllHere> {
  const [cards, own, looks] = await Promise.all([allCarried(), ownRepairs(), looksHere()]);
  const known = new Map(cards.map((card) => [card.scope, card]));
  const scopes = [...new Set([...known.keys(), ...own.filter(({ what }) => what !== "test_held").map(({ scope }) => scope)])];
  const each = scopes.map((scope) => ({ scope, card: known.get(scope), own: own.filter((word) => word.scope === scope), looks: looks.get(scope) ?? [] }));
  const repairs = await Promise.all(each.map(async ({ scope, card, own: mine, looks: seen }) => together(scope, card, mine, (await lastSerialPhoto(scope)) !== undefined, seen)));
  const standing = repairs.filter((one) => one !== undefined).sort((a, b) => a.repair.since_ms - b.repair.since_ms);
  const shipped = standing.flatMap(({ scope, said }) => said.filter(({ what }) => what === "shipped").map((word) => [scope, word] as const));
  const loaners = each.map(({ scope, card, own: mine, looks: seen }) => lent(scope, saidOf(card, mine), seen)).filter((one) => one !== undefined).sort((a, b) => a.loaner.since_ms - b.loaner.since_ms);
  return { repairs: standing, loaners: loaners.map((one) => ({ ...one, for: tied(one, shipped, standing, known) })) };
}

function tied({ scope, loaner }: LoanerHere, shipped: readonly (readonly [string, RepairSaid])[], standing: readonly RepairHere[], known: ReadonlyMap<string, RepairCard>): TiedHere | undefined {
  const tie = tieOf(scope, loaner, shipped);
  if (tie === undefined) return undefined;
  const repair = standing.find((each) => each.scope === tie.scope)?.repair;
  return { scope: tie.scope, stage: repair?.stage, may_go_back: mayGoBack(tie, repair, known.get(tie.scope)?.released_ms ?? 0) };
}

/** The scope of a repair that a label or a paper names by any of its words. */
export async function scopeOfRepair(entry: string): Promise<string | undefined> {
  const rows = await read(["cards"], (tx) => tx.objectStore("cards").index("words").getAll(`repair ${entry}`));
  const [row] = rows;
  if (row !== undefined) return row.id;
  return (await ownRepairs()).find(({ hash }) => hash === entry)?.scope;
}

/** What this tablet wrote stands in the place of what a card says of the same word; what a lead closed is in no card. */
function saidOf(card: RepairCard | undefined, own: readonly OwnRepairWord[]): readonly RepairSaid[] {
  const events = new Map<string, RepairSaid>((card?.events ?? []).map((event) => [event.entry, event]));
  const counted = new Set(card?.counted);
  for (const word of own) {
    if (!counted.has(word.hash.slice(0, SHORT)) || events.has(word.hash)) events.set(word.hash, eventOf(word));
  }
  return [...events.values()].sort((a, b) => a.at_ms - b.at_ms);
}

function together(scope: string, card: RepairCard | undefined, own: readonly OwnRepairWord[], serialHere: boolean, looks: readonly RepairLook[]): RepairHere | undefined {
  const said = saidOf(card, own);
  const repair = repairOf(said, serialHere || card?.serial_photo === true, looks);
  return repair === undefined ? undefined : { scope, repair, said: said.filter(({ undone }) => !undone), own: new Set(own.map(({ hash }) => hash)) };
}

function lent(scope: string, said: readonly RepairSaid[], looks: readonly RepairLook[]): LoanerHere | undefined {
  const loaner = loanerOf(said, looks);
  return loaner === undefined ? undefined : { scope, loaner, said: said.filter(({ entry }) => loaner.came.includes(entry)) };
}

function eventOf({ hash, ms, what, person, repair, basis, over, undone, said, case: packed, inspections }: OwnRepairWord): RepairSaid {
  const event: RepairEvent = { entry: hash, what, person, at_ms: ms, repair, basis, over, undone, said, photos: packed.length };
  return { ...event, inspections, case: packed };
}

async function carried(scope: string): Promise<RepairCard | undefined> {
  const row = await read(["cards"], (tx) => tx.objectStore("cards").get(["repairs", scope]));
  return row?.row as RepairCard | undefined;
}

async function allCarried(): Promise<readonly RepairCard[]> {
  const rows = await read(["cards"], (tx) => tx.objectStore("cards").getAll(IDBKeyRange.bound(["repairs"], ["repairs", []])));
  return rows.map((row) => row.row as RepairCard);
}
