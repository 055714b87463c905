/** What grows out of the line and lies across it: knobs, ports, ribs, depth ticks. Drawn from shapes only. */
import { widthOf, type Layout, type Spot } from "./line-geometry";
import type { LinePart } from "./types";

/** A closed shape behind the tube. */
export interface Outgrowth {
  readonly d: string;
  readonly filled: boolean;
}
/** A stroke across the tube of part `id`. */
export interface Across {
  readonly id: string;
  readonly d: string;
  readonly width: number;
}

function at(spot: Spot, scale: number, direction: 1 | -1 = 1): (dx: number, dy: number) => string {
  return (dx, dy) => `${round1(spot.x + dx * scale * direction)} ${round1(spot.y + dy * scale)}`;
}
function round1(value: number): number {
  return Math.round(value * 10) / 10;
}

function outgrowth(shape: string, spot: Spot, scale: number): Outgrowth | null {
  const p = at(spot, scale);
  const along = at(spot, scale, spot.direction);
  switch (shape) {
    case "knob": {
      const r = round1(13 * scale);
      return { d: `M${p(-13, -15)}A${r} ${r} 0 0 1 ${p(13, -15)}Z`, filled: false };
    }
    case "cylinder":
      return { d: `M${p(-6, -12)}V${round1(spot.y - 24 * scale)}H${round1(spot.x + 6 * scale)}L${p(6, -12)}Z`, filled: false };
    case "port":
      return { d: `M${along(-2, -8)}L${along(-11, -24)}L${along(-19, -19)}L${along(-11, -6)}Z`, filled: false };
    case "lever":
      return { d: `M${along(-3, -14)}L${along(-3, -28)}L${along(15, -28)}L${along(15, -22)}L${along(3, -22)}L${along(3, -14)}Z`, filled: true };
    case "switches":
      return { d: `M${p(-14, -14)}V${round1(spot.y - 19 * scale)}H${round1(spot.x - 3 * scale)}L${p(-3, -14)}ZM${p(3, -14)}V${round1(spot.y - 19 * scale)}H${round1(spot.x + 14 * scale)}L${p(14, -14)}Z`, filled: false };
    case "eyepiece":
      return { d: `M${p(-6, -12)}L${p(-11, -25)}H${round1(spot.x + 11 * scale)}L${p(6, -12)}Z`, filled: false };
    case "post":
      return { d: `M${along(2, -8)}L${along(11, -24)}L${along(19, -19)}L${along(11, -6)}Z`, filled: false };
    case "recess":
      return { d: `M${along(-28, -8)}L${along(-28, -13)}L${along(28, -13)}L${along(28, -8)}Z`, filled: true };
    case "elevator":
      return { d: `M${along(-4, -7)}L${along(-4, -27)}L${along(24, -8)}Z`, filled: true };
    default:
      return null;
  }
}

/** Outlines of what stands out of the tube, in the order of the route. */
export function outgrowths(parts: readonly LinePart[], layout: Layout): readonly Outgrowth[] {
  return parts.flatMap((part, index) => {
    const spot = layout.spots[index];
    const growth = spot === undefined ? null : outgrowth(part.shape, spot, layout.scale);
    return growth === null ? [] : [growth];
  });
}

/** How far from the centre a shape has strokes across, in px of the full line, and how wide they are. */
const ACROSS: Readonly<Record<string, { readonly offsets: readonly number[]; readonly width: number }>> = {
  bending: { offsets: [-32, -24, 24, 32], width: 1.6 },
  tube: { offsets: [-30, -22, 22, 30], width: 1.3 },
  cap: { offsets: [-30, 30], width: 4 },
  groove: { offsets: [-28, -24, 24, 28], width: 1.6 },
  face: { offsets: [-32, -29, -26, -23, 23, 26, 29, 32], width: 1.3 },
  ring: { offsets: [-28, -22, 22, 28], width: 2 },
};

/** Ribs, depth ticks and the edges of a ring, drawn only where they stand clear of the mark. */
export function strokesAcross(parts: readonly LinePart[], layout: Layout): readonly Across[] {
  return parts.flatMap((part, index) => {
    const spot = layout.spots[index];
    const across = Object.hasOwn(ACROSS, part.shape) ? ACROSS[part.shape] : undefined;
    if (spot === undefined || across === undefined) return [];
    const thin = layout.scale < 1;
    // The line begins `lead` before the first part's centre; nothing lies across what is not there.
    const start = index === 0 ? layout.lead - 6 : layout.pitch / 2 - 1;
    const offsets = thin ? [-3, 3] : across.offsets.filter((offset) => Math.max(-offset - start, offset - layout.pitch / 2 + 1) < 0);
    const half = (widthOf(part.shape) * layout.scale) / 2;
    return offsets.map((offset) => ({
      id: part.id, width: across.width, d: `M${round1(spot.x + offset)} ${round1(spot.y - half)}V${round1(spot.y + half)}`,
    }));
  });
}
