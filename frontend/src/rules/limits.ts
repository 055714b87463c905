/**
 * What a measured value of a cleaning test says: against the limit its maker states, else the facility's own. Pure.
 *
 * The twin of rules/limits.py. Values of two units, or of two meters that count light (RLU), are never held against each
 * other. All values in thousandths of the unit (UCUM).
 */

/**
 * in_range: below every limit · alert: still acceptable, to be looked into · action: clean again, test again · no_limit:
 * nobody said what this value of this unit should be.
 */
export type Level = "in_range" | "alert" | "action" | "no_limit";

/** A limit of the policy; at a level is above it. */
export interface Limit {
  readonly reading: string;
  readonly unit: string;
  readonly alert_thousandths?: number;
  readonly action_thousandths: number;
  readonly source: string;
}

/** `ownLimit`: what the maker of the test states as the highest value that passes; it wins over every other. */
export function levelOf(limits: readonly Limit[], what: string, value: number, unit: string | undefined, ownLimit?: number): Level {
  if (ownLimit !== undefined) return value > ownLimit ? "action" : "in_range";
  const limit = limitOf(limits, what, unit);
  if (limit === undefined) return "no_limit";
  if (value >= limit.action_thousandths) return "action";
  return limit.alert_thousandths !== undefined && value >= limit.alert_thousandths ? "alert" : "in_range";
}

export const limitOf = (limits: readonly Limit[], what: string, unit: string | undefined): Limit | undefined =>
  limits.find((each) => each.reading === what && each.unit === unit);
