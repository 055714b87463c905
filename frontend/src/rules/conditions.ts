/** Conditions on a flat fact: {field, eq | in | gte | lt | missing}. All of a list must hold. */

export interface Condition {
  readonly field: string;
  readonly eq?: unknown;
  readonly in?: readonly unknown[];
  readonly gte?: number;
  readonly lt?: number;
  readonly missing?: boolean;
}

export type Fact = Readonly<Record<string, unknown>>;

/** A missing (or null) field fails every condition but `missing: true`. Numbers are whole. */
export function holds(condition: Condition, fact: Fact): boolean {
  const value = Object.hasOwn(fact, condition.field) ? fact[condition.field] : undefined;
  const missing = value === undefined || value === null;
  if (condition.missing !== undefined) return condition.missing === missing;
  if (missing) return false;
  if (condition.eq !== undefined) return value === condition.eq;
  if (condition.in !== undefined) return condition.in.includes(value);
  if (typeof value !== "number") return false;
  if (condition.gte !== undefined) return value >= condition.gte;
  return condition.lt !== undefined && value < condition.lt;
}

export function allHold(conditions: readonly Condition[], fact: Fact): boolean {
  return conditions.every((condition) => holds(condition, fact));
}
