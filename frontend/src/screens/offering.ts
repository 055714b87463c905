/** Where a scan leads at this station: from where the scope stands, as known here, and what the next scan says. */
import { openToGoOn, type StationCard } from "../cards";
import { standOfScope } from "../cards/cycle";
import { loanerHere, repairHere } from "../cards/repair";
import { keepDraft, readDraft } from "../record";
import { practising } from "../record/practice";
import type { CycleEvent, Stand } from "../rules/cycle";
import { type Here, type Offer, offerOf } from "../rules/next";
import { type Beginning, begunElsewhere } from "./begin";
import { here } from "./here.svelte";
import type { Meeting } from "./meeting";
import { tookScope } from "./pairing";
import type { Where } from "./where";

export interface Offered {
  readonly stand: Stand;
  /** What happened to it, as known here. */
  readonly events: readonly CycleEvent[];
  readonly offer: Offer;
  /** By the server's clock, as far as it is known here. */
  readonly nowMs: number;
}

/** A tablet that knows of no station of its own offers everything. */
const ANYWHERE: Here = { side: "both", points: ["at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance"] };

export async function offered(scope: string, station: StationCard | undefined): Promise<Offered> {
  const { stand, events, recorded, nowMs } = await standOfScope(scope);
  return { stand, events, offer: offerOf(stand, station ?? ANYWHERE, recorded, nowMs), nowMs };
}

/**
 * A scope was named and nothing is in hand. A step that the next scan says is recorded; what is gone on with, and a
 * look that follows beyond doubt, leads to the serial photo; where it is in its cycle is asked for all else.
 */
export async function leads(scope: string, beginning: Beginning): Promise<Where> {
  if (!here.moves && (beginning.continues !== undefined || practising() !== undefined)) return photograph(scope, beginning);
  const away = here.nextScan === "inspect" ? await repairHere(scope) : undefined;
  if (away !== undefined && (here.moves || away.repair.stage === "out")) return { screen: "repair", scope };
  const lent = here.nextScan === "inspect" && away === undefined ? await loanerHere(scope) : undefined;
  if (lent !== undefined && here.moves) return { screen: "repair", scope, step: "loan" };
  if (here.nextScan === "hand-over" || (here.moves && here.nextScan === "inspect")) return { screen: "hand-over", scope };
  if (here.nextScan !== "inspect") return { screen: "step", scope, step: here.nextScan };
  const [{ stand, offer }, open] = await Promise.all([offered(scope, here.me), openToGoOn(scope)]);
  // New here: it is looked at for acceptance. Begun elsewhere: whether to join is asked beside the photo.
  // Back from repair, or on loan, and not accepted yet: acceptance comes before all else.
  const unaccepted = away?.repair.stage === "back" || lent?.loaner.stage === "came";
  const isNew = here.scopes[scope]?.on_record === false && stand.phase === "none";
  if (isNew || begunElsewhere(open, here.me)?.joins === true) return photograph(scope, beginning);
  if (unaccepted && (here.me?.points ?? ANYWHERE.points).includes("acceptance")) return photograph(scope, { ...beginning, at: "acceptance", after: undefined });
  if (offer.sure?.do === "inspect") return photograph(scope, { ...beginning, at: offer.sure.point, after: stand.phase });
  await keepDraft(`begin:${scope}`, beginning, [], here.person?.id);
  return { screen: "cycle", scope };
}

async function photograph(scope: string, beginning: Beginning): Promise<Where> {
  await keepDraft(`begin:${scope}`, beginning, [], here.person?.id);
  return { screen: "serial", scope };
}

/** A point chosen by a person: the photo of the serial number comes first. */
export async function inspectAt(scope: string, point: string): Promise<Where> {
  const kept = await readDraft<Beginning>(`begin:${scope}`);
  return photograph(scope, { ...(kept?.value ?? { by: "list", proves: "tag" }), at: point, after: undefined });
}

/** A code that is no scope's, read while somebody outside takes one: the number on their label. */
function forHandOver(scope: string, met: Meeting, step?: "ship"): Where | undefined {
  if ((met.meets !== "unknown" && met.meets !== "nothing") || met.code.own !== undefined) return undefined;
  const code = met.code.text.trim();
  return step === undefined ? { screen: "hand-over", scope, code } : { screen: "repair", scope, step, code };
}

/** A code that is no scope's, read while a step waits for a machine or a place; a scope that a screen waits for. */
export function forStep(where: Where, met: Meeting): Where | undefined {
  if (where.screen === "hand-over") return forHandOver(where.scope, met);
  if (where.screen === "repair" && met.meets === "scope" && met.scope.scope !== where.scope && tookScope(met.scope.scope)) return where;
  if (where.screen === "repair" && where.step === "ship") return forHandOver(where.scope, met, "ship");
  if (where.screen !== "step" && where.screen !== "camera-scan") return undefined;
  const { scope, step } = where;
  if (scope === undefined || step === undefined || met.meets === "scope" || met.meets === "person" || met.meets === "command") return undefined;
  const code = met.meets === "tool" ? met.tool : (met.code.own?.value ?? met.code.text.trim());
  return { screen: "step", scope, step, code };
}
