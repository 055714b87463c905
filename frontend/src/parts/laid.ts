/** What is laid over a photo: rings, arrows, lengths. Data in photo coordinates, drawn by LaidMarks.svelte alone. */
import { mmSaid, saidBy } from "../rules/measure";
import type { Laid, Length } from "./types";
import { say } from "./words";

export const NOTHING_LAID: Laid = { rings: [], arrows: [], lengths: [] };

export const anyLaid = (laid: Laid | undefined): boolean => laid !== undefined && laid.rings.length + laid.arrows.length + laid.lengths.length > 0;

/** "5.0 ± 0.1 mm", or undefined where the points say nothing: then no millimetres stand anywhere. */
export function lengthWords(length: Length): string | undefined {
  const said = saidBy(length);
  if (said === undefined) return undefined;
  const { mm, plusMinus } = mmSaid(said);
  const digits = said.plus_minus_um < 1000 ? 2 : 1;
  return say("laid.mm", { mm: mm.toFixed(digits), off: plusMinus.toFixed(digits) });
}

/** What is laid, in words: for a caption, and for who does not see it. */
export function laidWords(laid: Laid): string {
  const rings = laid.rings.map(({ x, y }) => say("ring.at", { x: Math.round(x / 100), y: Math.round(y / 100) }));
  const arrows = laid.arrows.map(({ tip }) => say("laid.arrow_at", { x: Math.round(tip.x / 100), y: Math.round(tip.y / 100) }));
  const lengths = laid.lengths.map((length) => {
    const words = lengthWords(length);
    return words === undefined ? say("laid.no_mm") : say("laid.length_is", { length: words, against: say(`laid.against.${length.against.what}`) });
  });
  return [...rings, ...arrows, ...lengths].join("; ");
}

/** What a body of an entry lays over one photo. */
export function laidIn(body: Readonly<Record<string, unknown>>, photo: string | undefined): Laid {
  const of = <T,>(field: string): readonly T[] => ((body[field] ?? []) as readonly (T & { readonly photo: string })[]).filter((each) => each.photo === photo);
  return { rings: of("rings"), arrows: of("arrows"), lengths: of("lengths") };
}

/** What stands over a photo by these entries; undefined where nothing does. */
export function laidBy(live: readonly { readonly body: Readonly<Record<string, unknown>> }[], photo: string | undefined): Laid | undefined {
  const laid = together(live.map(({ body }) => laidIn(body, photo)));
  return anyLaid(laid) ? laid : undefined;
}

/** The marks of several entries over one photo, as one. */
export function together(all: readonly Laid[]): Laid {
  return {
    rings: all.flatMap(({ rings }) => rings), arrows: all.flatMap(({ arrows }) => arrows), lengths: all.flatMap(({ lengths }) => lengths),
  };
}
