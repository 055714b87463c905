/** Where a scope that was named leads: on with what is begun here, to its serial photo, or nowhere while another is in hand. */
import { scopeByKey } from "../cards";
import { inspectionState, openParts, type InspectionState } from "../record";
import type { Beginning } from "./begin";
import type { Meeting } from "./meeting";

export type Way =
  /** The scope in hand was named again. */
  | { readonly way: "same" }
  /** Another one than the scope in hand: both are shown and nothing moves. */
  | { readonly way: "another"; readonly inHand: InspectionState }
  /** Begun here and not concluded: the same inspection part goes on, whatever it still lacks. */
  | { readonly way: "on"; readonly begun: string }
  | { readonly way: "begin"; readonly beginning: Beginning };

/** The inspection in hand, while it is not closed. */
export async function inHandOf(begun: string | undefined): Promise<InspectionState | undefined> {
  const state = begun === undefined ? undefined : await inspectionState(begun);
  return state === undefined || state.closed ? undefined : state;
}

/** A scope was named; `inHand` is the inspection on screen, if there is one. */
export async function wayOf(scope: string, beginning: Beginning, inHand: InspectionState | undefined): Promise<Way> {
  if (inHand !== undefined) return inHand.scope === scope ? { way: "same" } : { way: "another", inHand };
  if (beginning.continues !== undefined) return { way: "begin", beginning };
  const [part] = (await openParts()).filter((each) => each.scope === scope);
  if (part === undefined || (await scopeByKey(scope))?.last?.root === part.root) return { way: "begin", beginning };
  if (part.here) return { way: "on", begun: part.begun };
  return { way: "begin", beginning: { ...beginning, continues: part.root, point: part.point } };
}

/** Whether a code that leaves open which scope is meant may still be of the one in hand. */
export function mayBe(met: Meeting, scope: string): boolean {
  return "candidates" in met && met.candidates.some((each) => each.scope.scope === scope);
}
