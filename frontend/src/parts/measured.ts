/** A measured value in words: what, how much, against which limit. On the tablet and at the desk alike. Pure. */
import { type Limit, levelOf } from "../rules/limits";
import { readingName } from "./readings";
import { say, type Key } from "./words";

/** Units as people write them; the record has them as UCUM does. */
const UNITS: Readonly<Record<string, string>> = { "{RLU}": "RLU", "ug/cm2": "µg/cm²", ug: "µg", "fmol/cm2": "fmol/cm²" };
export const unitName = (unit: string): string => UNITS[unit] ?? unit;

type Fields = Readonly<Record<string, unknown>>;
const number = (value: unknown): number | undefined => (typeof value === "number" ? value : undefined);

/** "ATP: 250 RLU, limit 200 RLU". */
export const measuredWords = (body: Fields): string => say("function.said", { what: readingName(String(body["what"])), said: amountWords(body) });

/** "250 RLU, limit 200 RLU". */
export function amountWords(body: Fields): string {
  const unit = unitName(typeof body["unit"] === "string" ? body["unit"] : "");
  const [value, own] = [number(body["value_thousandths"]), number(body["limit_thousandths"])];
  const words = say("desk.value", { n: (value ?? 0) / 1000, unit });
  return own === undefined ? words : say("cleaning.with_limit", { words, limit: say("desk.value", { n: own / 1000, unit }) });
}

/** What the value says against its limit. */
export function levelWords(limits: readonly Limit[], body: Fields): string {
  const unit = typeof body["unit"] === "string" ? body["unit"] : undefined;
  return say(`level.${levelOf(limits, String(body["what"]), number(body["value_thousandths"]) ?? 0, unit, number(body["limit_thousandths"]))}` as Key);
}
