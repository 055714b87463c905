/**
 * A borescope against a channel, as arithmetic: whole micrometres and millimetres, no clearance of our own. The
 * makers' instructions decide whether it may go in; this only says what the two printed numbers leave. Pure.
 */

/** What the width leaves. `room`: micrometres on each side, rounded down. `tight`: it fills more than nine tenths. */
export type Room =
  | { readonly says: "room" | "tight"; readonly eachSideUm: number }
  | { readonly says: "no_fit" }
  | { readonly says: "not_known" };

/** Where the table of the trade begins to write "tight": 1.9 in 2.0 and 2.6 in 2.8. Common practice, no source. */
const TIGHT_TENTHS = 9;

/** Outer diameter against inner diameter; the same width does not go in. */
export function roomIn(borescopeUm: number | undefined, channelUm: number | undefined): Room {
  if (borescopeUm === undefined || channelUm === undefined || borescopeUm <= 0 || channelUm <= 0) return { says: "not_known" };
  if (borescopeUm >= channelUm) return { says: "no_fit" };
  const eachSideUm = Math.floor((channelUm - borescopeUm) / 2);
  return { says: borescopeUm * 10 > channelUm * TIGHT_TENTHS ? "tight" : "room", eachSideUm };
}

/** How far the borescope comes: `beyondMm` is what lies behind its end, 0 where it is long enough. */
export type Reach = { readonly says: "whole" } | { readonly says: "too_short"; readonly beyondMm: number } | { readonly says: "not_known" };

/** Length of the borescope against the channel's own length, port to outlet; never the scope's working length. */
export function reachIn(borescopeMm: number | undefined, channelMm: number | undefined): Reach {
  if (borescopeMm === undefined || channelMm === undefined || borescopeMm <= 0 || channelMm <= 0) return { says: "not_known" };
  return borescopeMm < channelMm ? { says: "too_short", beyondMm: channelMm - borescopeMm } : { says: "whole" };
}

/** The stretch that stays unseen when a look ends at `reachedMm`, counted from the same end; undefined = none. */
export function unseen(reachedMm: number, channelMm: number | undefined): { readonly fromMm: number; readonly toMm: number } | undefined {
  return channelMm === undefined || reachedMm >= channelMm ? undefined : { fromMm: reachedMm, toMm: channelMm };
}
