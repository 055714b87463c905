/** How far two readers agree, worded. Pure: an answer of the server in, sentences out. */
import { named } from "../parts/names";
import { say } from "../parts/words";
import type { Person, Scope } from "./answers";
import { nameOf, worded } from "./shown";

/** One table and what follows from it. Rows: what the first said; columns: what the second said. */
export interface Agreement {
  readonly table: readonly (readonly number[])[];
  readonly n: number;
  readonly agreed: number;
  /** 0 to 1; null where there is no pair. */
  readonly share: number | null;
  readonly low: number | null;
  readonly high: number | null;
  /** −1 to 1; null where `why` says why not. */
  readonly kappa: number | null;
  readonly why: "too_few" | "undefined" | null;
}

interface Grown {
  readonly finding: string | null;
  readonly grade: string | null;
}

/** A pair that differs: what each of the two said of the same photos. */
export interface Differs {
  readonly asked: string;
  readonly at: string;
  readonly scope: Scope;
  readonly part: string;
  readonly root: string | null;
  readonly first_person: string;
  readonly first: readonly Grown[];
  readonly second_person: string;
  readonly second: Grown & { readonly words: string | null };
}

/** `GET /lead/agreement`. */
export interface AgreementPage {
  /** Pairs below which no kappa is given. */
  readonly least: number;
  readonly drawn: number;
  readonly open: number;
  readonly by_lead: number;
  readonly seen: Agreement;
  readonly both: number;
  readonly other_finding: number;
  readonly grades: Agreement & { readonly words: readonly string[] };
  readonly people_pairs: readonly (Agreement & { readonly first: string; readonly second: string })[];
  readonly differ: readonly Differs[];
  readonly people: readonly Person[];
}

const percent = (share: number): number => Math.round(share * 100);

/** "The same in 85 of 100: 85 % (95 % interval: 77 to 91 %)". */
export function rawSaid({ n, agreed, share, low, high }: Agreement): string {
  if (share === null || low === null || high === null) return say("second.no_pair");
  return say("second.raw", { agreed, count: n, share: percent(share), low: percent(low), high: percent(high) });
}

/** The number, or why there is none. */
export function kappaSaid({ kappa, why }: Agreement, least: number): string {
  return kappa === null ? worded(`second.why.${why ?? "undefined"}`, { least }, "") : say("second.kappa", { kappa: signed(kappa) });
}

/** Two digits; what rounds to nothing has no sign. */
export function signed(value: number): string {
  const shown = value.toFixed(2).replace("-0.00", "0.00");
  return shown.replace("-", "−");
}

export function saidOf(said: readonly Grown[]): string {
  const words = said.flatMap(({ finding, grade }) => (finding === null ? [] : [`${named("seen", finding).toLocaleLowerCase()}, ${worded(`grade.${grade ?? ""}`, {}, grade ?? "").toLocaleLowerCase()}`]));
  return words.length === 0 ? say("second.none").toLocaleLowerCase() : words.join("; ");
}

/** What the first said, then the second, each with who it was. */
export function differSaid(row: Differs, people: readonly Person[]): string {
  return say("second.differs", {
    first: saidOf(row.first), one: nameOf(people, row.first_person), second: saidOf([row.second]), other: nameOf(people, row.second_person),
  });
}
