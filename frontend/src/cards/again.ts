/** Which looks sent a scope back to cleaning, as known here: what the card carries and what this tablet concluded since. */
import { inspectionState } from "../record/state";
import { type OwnStep, ownSteps } from "../record/steps";
import type { SentBack } from "../rules/again";
import { scopeByKey } from "./look";

/** In no order. A look that this tablet took back is not among them, whatever the card says. */
export async function sentBackHere(scope: string): Promise<readonly SentBack[]> {
  const [card, own] = await Promise.all([scopeByKey(scope), ownSteps(scope)]);
  const mine = (await Promise.all(own.live.map(backOf))).flat();
  const here = new Set([...own.live.map(({ hash }) => hash), ...own.gone]);
  return [...(card?.sent_back ?? []).filter(({ entry }) => !here.has(entry)), ...mine];
}

/** The whole cycle is asked for by dirt, and by time, moisture or a loan that comes in as well: only dirt counts here. */
async function backOf({ hash, thread, ms, body, begun }: OwnStep): Promise<readonly SentBack[]> {
  if (begun === undefined || begun["practice"] === true) return [];
  const counts = body["first"] === "clean" || (body["first"] === "whole" && (await soilIn(thread)));
  return counts ? [{ entry: hash, root: typeof begun["continues"] === "string" ? begun["continues"] : thread, at_ms: ms }] : [];
}

async function soilIn(thread: string): Promise<boolean> {
  const state = await inspectionState(thread);
  const found = state?.thread.live.filter(({ kind }) => kind === "finding.recorded") ?? [];
  return found.some(({ body }) => state?.catalogue?.findings[String(body["finding"])]?.class === "soil");
}
