/** Where a scope that was named leads: on with what is begun here, to its serial photo, or nowhere while another is in hand. */
import { scopeByKey } from "../cards";
import { inspectionState, openParts, type InspectionState } from "../record";
import type { Beginning } from "./begin";
import "../parts/words-later";
import { say } from "../parts/words";
import { here } from "./here.svelte";
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

/** How a scope is shown beside another one. */
export interface Identity {
  readonly name: string;
  readonly serial?: string | undefined;
}

/** What stops: the words of it, and both identities. */
export interface Another {
  readonly so: string;
  readonly hand: Identity;
  readonly scanned: Identity;
}

/** Both side by side. The number of the scope in hand stays hidden until it was photographed. */
export function besides(hand: InspectionState, scanned: Identity, so?: string): Another {
  const [name, serial] = [here.scopeName(hand.scope), hand.serial ? here.serialOf(hand.scope) : undefined];
  return { so: so ?? say("trouble.same_number.so", { other: scanned.name, scope: name }), hand: { name, serial }, scanned };
}

type Unclear = Extract<Meeting, { readonly code: unknown }>;

/** A code that names no one scope, while one is in hand: nothing where it may still be of that one. */
export function unclear(met: Unclear, hand: InspectionState): Another | undefined {
  if ("candidates" in met && met.candidates.some((each) => each.scope.scope === hand.scope)) return undefined;
  const so = met.meets === "nothing" ? say(`meet.nothing.${met.why}`) : undefined;
  return besides(hand, { name: say("another.unknown"), serial: met.code.serial ?? met.code.text }, so);
}
