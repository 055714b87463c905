/** Where the work on an inspection goes on after an answer: the next part, then the test, then the functions, then the decision. */
import type { Inspection } from "./inspection.svelte";
import type { Where } from "./where";

export function onward(inspection: Inspection, from?: string): Where {
  const { begun } = inspection;
  // Before use the things stand on one screen: each answer leads back to it.
  if (inspection.state?.point === "before_use") return { screen: "route", begun };
  const next = inspection.next(from);
  if (next !== undefined) return { screen: "route", begun, part: next.id };
  if (inspection.needs.includes(inspection.test)) return { screen: "leak", begun };
  return inspection.untried.length > 0 ? { screen: "functions", begun } : { screen: "conclude", begun };
}
