/** Practice from the screens' side: which rows are lent, which invented scopes there are, the way in and the way out. */
import { goOnByName, type PersonCard, type ScopeCard, type StationCard } from "../cards";
import { wordsOf } from "../cards/rows";
import { frameOfPractice } from "../parts/practice";
import Sign from "../parts/PracticeSign.svelte";
import { practising } from "../record/practice";
import { beginPractice, endPractice, keepPractising } from "../record/practice-store";
import type { CardRow } from "../record/schema";
import { mmsKey } from "../rules/codes";

/** Invented, and so is the maker's name: a kind that may be marked by zones, one that may not, one with an elevator. */
const SCOPES = [
  ["colonoscope", "P-1", "1000014", 1680], ["bronchoscope", "P-2", "1000021", 600], ["duodenoscope", "P-3", "1000038", 1240],
] as const;
const POINTS = ["at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance"];

function scopeCard([kind, tag, serial, mm]: (typeof SCOPES)[number]): ScopeCard {
  return {
    scope: mmsKey("Practice", kind, serial) ?? tag, scope_kind: kind, serial, maker: "Practice", model: kind, tag,
    codes: [`LB1:S:${tag}`], on_record: true, near: true, none_here: [], tube_mm: mm,
  };
}

/** The scopes that practice has, in the order they are offered. */
export const practiceScopes: readonly ScopeCard[] = SCOPES.map(scopeCard);

const rowOf = (card: ScopeCard): CardRow => ({
  table: "scopes", id: card.scope, row: card, words: wordsOf("scopes", card as unknown as Readonly<Record<string, unknown>>),
});

/** Lent are the people, the facility and this station, which may look at all points here. */
function lentRow(row: CardRow, station: string): CardRow | undefined {
  if (row.table !== "stations") return row;
  const card = row.row as StationCard;
  return card.station === station ? { ...row, row: { ...card, side: "both", points: POINTS } } : undefined;
}

/** Makes this window ready to practise, before any screen stands. */
export async function openPractice(): Promise<void> {
  await beginPractice(["people", "facility", "stations"], lentRow, practiceScopes.map(rowOf));
  const person = practising();
  if (person !== undefined) await goOnByName(person);
  frameOfPractice({ Sign, leave: () => void leavePractice() });
}

/** From the record's own screens into practice: the window begins anew on the other store. */
export function enterPractice(person: PersonCard["person"]): void {
  keepPractising(person);
  beginAnew();
}

/** Back to the record in one tap; what was practised is thrown away. */
export async function leavePractice(): Promise<void> {
  keepPractising(undefined);
  await endPractice().catch(() => undefined);
  beginAnew();
}

function beginAnew(): void {
  history.replaceState(null, "", "#/home");
  location.reload();
}
