/** What a lead can say of an entry that was put aside, by the reason it was put aside for. */
import type { Key } from "../parts/words";
import type { AsideRow } from "./answers";

/** Whether it may be counted, and what that comes to. */
export interface Counts {
  readonly may: boolean;
  readonly note: Key;
}

/** Who wrote it, or where, was in doubt: a lead can say that it is theirs. */
const DOOR: ReadonlySet<string> = new Set(["station_revoked", "person_unknown", "person_inactive", "role_may_not"]);
/** A text that may have come to be known since. */
const PINS: ReadonlySet<string> = new Set(["catalogue_unknown", "policy_unknown"]);
/** It can't be read, or does not belong where it stands. */
const UNREADABLE: ReadonlySet<string> = new Set([
  "unparseable", "doubled_key", "not_whole", "unknown_kind", "bad_body", "wrong_chain", "wrong_seq", "broken_link",
]);

/** All other reasons are rules of the chain: what they say of an entry is the same for ever. */
export function whatCounts({ reason, settled }: Pick<AsideRow, "reason" | "settled">): Counts {
  if (UNREADABLE.has(reason)) return { may: false, note: "desk.cannot_count" };
  if (settled === "count") return { may: false, note: reason === "waits" ? "desk.let_in_waits" : "desk.let_in_stands" };
  if (DOOR.has(reason)) return { may: true, note: "desk.count_note" };
  if (reason === "waits") return { may: true, note: "desk.count_waits" };
  if (PINS.has(reason)) return { may: true, note: "desk.count_pins" };
  return { may: false, note: "desk.rule_stands" };
}
