/** The stations of the cycle on one line, and which of them are known of a scope. Pure. */
import type { CycleEvent, Stand } from "../rules/cycle";

/** In the order a scope goes round; acceptance stands outside the round. */
export const ROUND = ["received", "at_leak_test", "after_cleaning", "processed", "after_drying", "hung", "taken", "before_use"] as const;

export interface Station {
  readonly id: string;
  /** Told to this tablet in this cycle. What is not known may have happened all the same. */
  readonly known: boolean;
  /** When, ms by the server's clock, where it is known. */
  readonly atMs: number | undefined;
  /** The ring sits here. */
  readonly here: boolean;
}

/** Each station once; `at` is the step that is being recorded, which is not known yet. */
export function stationsOf(stand: Stand, at?: string): readonly Station[] {
  const told = new Map<string, number>();
  const tell = (event: CycleEvent | undefined): void => {
    if (event !== undefined) told.set(event.what, event.at_ms);
  };
  tell(stand.received);
  tell(stand.disinfected);
  if (stand.stored_ms !== undefined) told.set("hung", stand.stored_ms);
  tell(stand.last);
  const ring = at === "cleaning" ? "received" : (at ?? stand.last?.what);
  return ROUND.map((id) => ({ id, known: told.has(id), atMs: told.get(id), here: id === ring }));
}

/** Now, and never before what is told: a clock that is a little behind names no date for what is of today. */
export function notBefore(nowMs: number, atMs: number): number {
  return Math.max(nowMs, atMs);
}
