/** What this tablet concluded last of a scope: known before the server's card says so, and without a network. */
import { inspectionState, partsOfScope } from "../record/state";
import type { ScopeCard } from "./rows";

type Last = NonNullable<ScopeCard["last"]>;

/** Inspections looked back through for one that was concluded. */
const MOST = 5;

/** The last inspection of the scope that was concluded on this tablet, or undefined. */
export async function lastHere(scope: string): Promise<Last | undefined> {
  for (const { hash } of await partsOfScope(scope, MOST)) {
    const state = await inspectionState(hash);
    const end = state?.entries.find(({ entry, live }) => live && entry.kind === "inspection.concluded")?.entry;
    if (state === undefined || end === undefined || state.practice) continue;
    return { root: state.root, point: state.point, first: String(end.body["first"]), goes: String(end.body["goes"]), at: end.at };
  }
  return undefined;
}

/** The card with the newer of what the server and this tablet know as the scope's last inspection. */
export function withLast(card: ScopeCard, here: Last | undefined): ScopeCard {
  if (here === undefined) return card;
  const known = card.last == null ? Number.NEGATIVE_INFINITY : Date.parse(card.last.at);
  return Date.parse(here.at) > known ? { ...card, last: here } : card;
}
