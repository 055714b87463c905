/** The stations of the cycle on one line, and which of them are known of a scope. Pure. */
import { type CycleEvent, inOrder } from "../rules/cycle";

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

/**
 * What happened in this round, in order: since the last receipt, or since the look before use that let it go where
 * nobody records receipts.
 */
export function roundOf(events: readonly CycleEvent[], nowMs: number): readonly CycleEvent[] {
  let round: readonly CycleEvent[] = [];
  let used = false;
  for (const event of inOrder(events, nowMs)) {
    const begins = event.what === "received" && event.of == null;
    round = begins || used ? [event] : [...round, event];
    used = event.what === "before_use" && event.goes === "on" && event.first === "nothing";
  }
  return round;
}

/** Each station once, with the last time it was passed in this round; `at` is the step that is being recorded, which is not known yet. */
export function stationsOf(round: readonly CycleEvent[], last: string | undefined, at?: string): readonly Station[] {
  const told = new Map(round.filter((event) => event.of == null).map((event) => [event.what, event.at_ms]));
  const ring = at === "cleaning" ? "received" : (at ?? last);
  return ROUND.map((id) => ({ id, known: told.has(id), atMs: told.get(id), here: id === ring }));
}

/** Now, and never before what is told: a clock that is a little behind names no date for what is of today. */
export function notBefore(nowMs: number, atMs: number): number {
  return Math.max(nowMs, atMs);
}
