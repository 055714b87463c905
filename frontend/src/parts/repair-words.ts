/** What stays contaminated, in words: the whole scope, the whole inside, or parts and channels by name. */
import { ALL, INSIDE } from "../rules/repair";
import { partName } from "./names";
import { say } from "./words";

export function contaminatedSaid(ids: readonly string[]): string {
  if (ids.length === 0) return say("repair.contaminated.none");
  return ids.map((id) => (id === ALL ? say("repair.contaminated.all") : id === INSIDE ? say("repair.contaminated.inside") : partName(id))).join(", ");
}
