/** A ring, an arrow and a length while they are drawn: what a screen keeps as a draft until it is an entry. Pure. */
import { anyLaid, NOTHING_LAID } from "./laid";
import { say } from "./words";
import type { Arrow, KnownSize, Laid, Reference, Ring, Spot } from "./types";

export type MarkTool = "ring" | "arrow" | "length";
export type Point = "center" | "tip" | "tail" | "known_a" | "known_b" | "a" | "b";

/** Points that are not there yet are left out; a length is none before all four are. */
export interface DrawnLength {
  readonly known_a?: Spot;
  readonly known_b?: Spot;
  readonly a?: Spot;
  readonly b?: Spot;
  /** How well its points could be put where they were put last, hundredths of the photo's pixels. */
  readonly aim?: number;
  readonly against?: Pick<Reference, "what" | "size_um" | "tolerance_um" | "channel">;
}

export interface Drawn {
  readonly ring: Ring | null;
  readonly arrow: Partial<Arrow> | null;
  readonly length: DrawnLength | null;
}

export const NOTHING_DRAWN: Drawn = { ring: null, arrow: null, length: null };
export const START: Ring = { x: 5000, y: 5000, r: 1200 };

/**
 * A ruler's marks may be 0.3 mm off: accuracy class II of the EU's measuring instruments directive (2014/32/EU, MI-008),
 * from memory. What a maker states may differ more (ten bronchoscopes were up to 0.66 mm thicker than stated, Pediatr
 * Pulmonol 2006). For another thing, and for a channel: 5 %, common practice, no source.
 */
export function toleranceOf(what: Reference["what"], sizeUm: number): number {
  if (what === "ruler") return 300;
  return what === "tube" ? 660 : Math.round(sizeUm / 20);
}

export const RULER: KnownSize = { what: "ruler", size_um: 10_000 };

export function againstOf({ what, size_um, channel }: KnownSize): NonNullable<DrawnLength["against"]> {
  return { what, size_um, tolerance_um: toleranceOf(what, size_um), ...(channel === undefined ? {} : { channel }) };
}

/** Millimetres with as many digits as they have. */
export const mmOf = (um: number): string => (um / 1000).toFixed(um % 1000 === 0 ? 0 : um % 100 === 0 ? 1 : 2);

/** How big the known thing is taken to be, and how well that is known. */
export const sizeWords = ({ size_um, tolerance_um }: NonNullable<DrawnLength["against"]>): string => say("laid.known_size", { mm: mmOf(size_um), off: mmOf(tolerance_um) });

/** The points of a tool in the order they are put. */
export function pointsOf(tool: MarkTool, { ring, arrow, length }: Drawn): readonly { readonly id: Point; readonly spot: Spot | undefined }[] {
  switch (tool) {
    case "ring": return [{ id: "center", spot: ring ?? undefined }];
    case "arrow": return [{ id: "tip", spot: arrow?.tip }, { id: "tail", spot: arrow?.tail }];
    case "length": return (["known_a", "known_b", "a", "b"] as const).map((id) => ({ id, spot: length?.[id] }));
  }
}

export function withPoint(drawn: Drawn, tool: MarkTool, id: Point, spot: Spot, aim: number): Drawn {
  if (tool === "ring") return { ...drawn, ring: { ...(drawn.ring ?? START), ...spot } };
  if (tool === "arrow") return { ...drawn, arrow: { ...drawn.arrow, [id]: spot } };
  return { ...drawn, length: { against: againstOf(RULER), ...drawn.length, aim: Math.max(aim, drawn.length?.aim ?? 0), [id]: spot } };
}

const within = (value: number): number => Math.min(10000, Math.max(0, Math.round(value)));
export const movedBy = ({ x, y }: Spot, right: number, down: number): Spot => ({ x: within(x + right), y: within(y + down) });

/** A point is put within 1.5 px of the screen, and never within less than 1 px of the photo; hundredths of the photo's pixels. */
export function aimOf(width: number, shownWidth: number): number {
  return Math.min(100_000, Math.ceil(100 * Math.max(1, (1.5 * width) / Math.max(1, shownWidth))));
}

/** What is whole of it, as it is laid over the photo and written. */
export function laidOf({ ring, arrow, length }: Drawn, { width, height }: { readonly width: number; readonly height: number }): Laid {
  const { known_a, known_b, a, b, aim, against } = length ?? {};
  const whole = known_a !== undefined && known_b !== undefined && a !== undefined && b !== undefined && aim !== undefined && against !== undefined;
  return {
    rings: ring === null ? [] : [ring],
    arrows: arrow?.tail === undefined || arrow.tip === undefined ? [] : [{ tail: arrow.tail, tip: arrow.tip }],
    lengths: whole ? [{ width, height, a, b, aim_px100: aim, against: { ...against, a: known_a, b: known_b } }] : [],
  };
}

/** The fields of an entry: each mark with its photo. */
export function written(photo: string | undefined, laid: Laid): { readonly rings: readonly (Ring & { photo: string })[]; readonly arrows: readonly (Arrow & { photo: string })[]; readonly lengths: readonly (Laid["lengths"][number] & { photo: string })[] } {
  if (photo === undefined || !anyLaid(laid)) return { ...NOTHING_LAID, rings: [], arrows: [], lengths: [] };
  return {
    rings: laid.rings.map((ring) => ({ photo, ...ring })), arrows: laid.arrows.map((arrow) => ({ photo, ...arrow })),
    lengths: laid.lengths.map((length) => ({ photo, ...length })),
  };
}
