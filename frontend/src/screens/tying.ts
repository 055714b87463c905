/** Ties a loan to the scope it stands in for. */
import type { LoanerHere } from "../cards/repair";
import { until } from "../parts/settled";
import { append, type Sha256 } from "../record";
import { here } from "./here.svelte";

/** What is known of a loan by now, said by whoever is here; the hash of the entry. */
export async function noteLoan({ scope, loaner }: LoanerHere, body: { readonly instructions?: true; readonly fits?: "yes" | "no"; readonly stands_for?: string }): Promise<Sha256> {
  const saved = await until(append({ kind: "loaner.noted", by: here.by(), about: { scope }, body, basis: loaner.came.at(-1) as Sha256 }));
  return saved.hash;
}
