/**
 * Lays last time's photo over today's: finds turn, size and shift, and checks what it found. What does not hold in the
 * check is refused: no laying is better than a wrong one.
 */
import { finer } from "./align-fine";
import { found, spectrumOf, type Spectrum } from "./align-find";
import { after, alike, apart, AS_IT_IS, backOf, doubled, edges, halved, sizeOf, smoothed, warped, type Laying, type Square } from "./align-warp";

/** Side of the square both photos are laid into, pixels. */
export const SIDE = 256;

/**
 * The check. Chosen on the photos of scikit-image's package (tests/vectors/test_align.py says how many hold and how many
 * are refused): the highest edge likeness of a wrong laying there, with room.
 */
export const LIMITS = {
  /** Least likeness of the two edge pictures where both are, each way. */
  edges: 0.5,
  /** Least height of the peak of the shift over the next one elsewhere: a pattern that repeats has two alike. */
  ratio: 1.5,
  /** Least share of the smaller picture that the other covers. */
  share: 0.4,
  /** There and back again a corner comes back to where it was, within this many pixels of the square. */
  apart: 3,
  /** Nothing is bigger or smaller than this. */
  size: 2,
} as const;

export interface Check {
  readonly edges: number;
  readonly ratio: number;
  readonly share: number;
  readonly apart: number;
}

/** From then to now, in pixels of the square; or why not: nothing stood out, or the check did not hold. */
export type Aligned =
  | { readonly laying: Laying; readonly check: Check }
  | { readonly refused: "nothing_found" | "not_alike" | "repeats" | "too_little_in_both" | "not_the_same_back"; readonly check?: Check };

/** Both squares have the side of `SIDE`, or any other power of two. */
export function align(then: Square, now: Square): Aligned {
  const [one, two] = [levelsOf(then), levelsOf(now)];
  const there = way(one, two);
  const back = way(two, one);
  if (there === undefined || back === undefined) return { refused: "nothing_found" };
  const [thereAlike, backAlike] = [likeness(then, now, there.laying), likeness(now, then, back.laying)];
  const check: Check = {
    edges: Math.min(thereAlike.ncc, backAlike.ncc),
    ratio: Math.min(there.ratio, back.ratio),
    share: Math.min(thereAlike.share, backAlike.share),
    apart: apart(after(there.laying, back.laying), AS_IT_IS, then.side),
  };
  const size = sizeOf(there.laying);
  if (check.apart > LIMITS.apart || size > LIMITS.size || size < 1 / LIMITS.size) return { refused: "not_the_same_back", check };
  if (check.share < LIMITS.share) return { refused: "too_little_in_both", check };
  if (check.edges < LIMITS.edges) return { refused: "not_alike", check };
  if (check.ratio < LIMITS.ratio) return { refused: "repeats", check };
  return { laying: there.laying, check };
}

/** A picture as it is looked at: roughly at half its size, then whole. */
interface Levels {
  readonly rough: Spectrum;
  readonly half: Square;
  readonly whole: Square;
}

function levelsOf(square: Square): Levels {
  const half = halved(square);
  return { rough: spectrumOf(half), half: smoothed(half, 2), whole: smoothed(square, 1) };
}

interface Way {
  readonly laying: Laying;
  readonly ratio: number;
}

function way(one: Levels, two: Levels): Way | undefined {
  const coarse = found(one.rough, two.rough);
  if (coarse === undefined) return undefined;
  const half = finer(one.half, two.half, coarse.laying);
  const whole = half === undefined ? undefined : finer(one.whole, two.whole, doubled(half));
  return whole === undefined ? undefined : { laying: whole, ratio: coarse.ratio };
}

/** How alike the edges are where both pictures are, and the share of the first picture that is. */
function likeness(then: Square, now: Square, laying: Laying): { readonly ncc: number; readonly share: number } {
  const seen = warped(now, laying);
  const edge = (square: Square): Square => smoothed(edges(smoothed(square, 1)), 1);
  const { ncc, share } = alike(edge(then), edge(seen));
  return { ncc, share: (share * then.inside.length) / Math.max(1, count(then.inside)) };
}

function count(inside: Uint8Array): number {
  let n = 0;
  for (const one of inside) n += one;
  return n;
}

/** Cells a side of the map of change. */
export const CELLS = 24;
/** Likeness of a cell under which it is pointed at, and the least contrast that says anything, grey values. */
const UNLIKE = 0.4;
const LEAST_CONTRAST = 4;

/**
 * Where the photos differ once one lies over the other: cells of now's square that hold something in one of them and are
 * not alike. A hint and no more: light, water, a shadow or a turn of the part differ too, and what is alike may be new.
 */
export function changes(then: Square, now: Square, laying: Laying): Uint8Array {
  const seen = smoothed(warped(then, backOf(laying)), 1);
  const here = smoothed(now, 1);
  const { side } = now;
  const cell = side / CELLS;
  return Uint8Array.from({ length: CELLS * CELLS }, (_, at) => {
    const [x, y] = [(at % CELLS) * cell, Math.floor(at / CELLS) * cell];
    const [one, two] = [cut(seen, x, y, cell), cut(here, x, y, cell)];
    const both = alike(one, two);
    if (both.share < 0.9) return 0;
    return Math.max(contrast(one), contrast(two)) >= LEAST_CONTRAST && both.ncc < UNLIKE ? 1 : 0;
  });
}

/** A cell with half a cell round it, so that a line at its rim is seen whole. */
function cut({ side, values, inside }: Square, x: number, y: number, cell: number): Square {
  const from = (at: number): number => Math.max(0, Math.floor(at - cell / 2));
  const size = Math.ceil(cell * 2);
  const out = { side: size, values: new Float32Array(size * size), inside: new Uint8Array(size * size) };
  for (let v = 0; v < size; v += 1) {
    for (let u = 0; u < size; u += 1) {
      const i = Math.min(side - 1, from(y) + v) * side + Math.min(side - 1, from(x) + u);
      out.values[v * size + u] = values[i]!;
      out.inside[v * size + u] = inside[i]!;
    }
  }
  return out;
}

function contrast({ values }: Square): number {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  return Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / values.length);
}
