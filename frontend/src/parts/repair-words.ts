/** What stays contaminated, in words: the whole scope, the whole inside, or parts and channels by name. */
import { ALL, type Difference, INSIDE } from "../rules/repair";
import { partName } from "./names";
import { say } from "./words";

export function contaminatedSaid(ids: readonly string[]): string {
  if (ids.length === 0) return say("repair.contaminated.none");
  return ids.map((id) => (id === ALL ? say("repair.contaminated.all") : id === INSIDE ? say("repair.contaminated.inside") : partName(id))).join(", ");
}

/** How many digits the smallest unit of a currency has (ISO 4217). */
export const digitsOf = (currency: string): number => new Intl.NumberFormat("en", { style: "currency", currency }).resolvedOptions().maximumFractionDigits ?? 2;

export function priceSaid(minor: number, currency: string): string {
  return new Intl.NumberFormat("en", { style: "currency", currency }).format(minor / 10 ** digitsOf(currency));
}

/** A day of a place, as a date field writes it; without a zone that of this machine. */
export function dayOf(ms: number, zone?: string): string {
  const parts = new Intl.DateTimeFormat("en", { year: "numeric", month: "2-digit", day: "2-digit", ...(zone === undefined || zone === "" ? {} : { timeZone: zone }) }).formatToParts(new Date(ms));
  const of = (type: string): string => parts.find((part) => part.type === type)?.value ?? "";
  return `${of("year")}-${of("month")}-${of("day")}`;
}

/** What came back otherwise than it left. */
export function differenceSaid(each: Difference): string {
  if (each.what === "serial") return each.read === "" ? say("repair.differs.serial") : say("repair.differs.serial_read", { read: each.read });
  if (each.what === "swapped") return say("repair.differs.swapped", { of: each.of });
  return say("repair.differs.accessories", { of: each.of, left: each.left, came: each.came });
}

/** What a loan leaves otherwise than it came; of accessories, how many came and how many leave. */
export function goneOtherwiseSaid(each: Difference): string {
  return each.what === "accessories" ? say("loan.differs.accessories", { of: each.of, left: each.left, came: each.came }) : differenceSaid(each);
}

type Facts = Readonly<Record<string, unknown>>;

/** Whose it is, and until when. */
export function ofSaid({ owner, until }: Facts): string {
  return typeof until === "string" ? say("loan.of_until", { owner: String(owner), day: until }) : say("loan.of", { owner: String(owner) });
}

/** Which scope a loan stands in for and where that one is. `name`: as it is called here. */
export function forSaid(tied: { readonly stage: string | null | undefined; readonly may_go_back: boolean }, name: string): string {
  if (tied.may_go_back) return say("loan.may_go", { scope: name });
  if (tied.stage === "out") return say("loan.for_out", { scope: name });
  return say(tied.stage === "back" || tied.stage === "accepted" || tied.stage === "ready" ? "loan.for_back" : "loan.for", { scope: name });
}

/** Past the day until which it is lent. `today`: as `dayOf` writes it. */
export const overdue = ({ until }: Facts, today: string): boolean => typeof until === "string" && until < today;
