/**
 * A length in a photo in micrometres with its uncertainty, by a thing of known size in the same photo: L = S d / D.
 * GUM (JCGM 100:2008), 5.1.6: (u(L)/L)² = (u(d)/d)² + (u(D)/D)² + (u(S)/S)², rectangular points and size (4.3.7), k = 2.
 * The whole derivation stands in backend/loupebook/rules/measure.py; the same operations in the same order.
 */

/** A point on a photo, ten-thousandths of its width and height. */
interface Spot {
  readonly x: number;
  readonly y: number;
}

/** Of a length as it stands in an entry (record/kinds.ts, Length): what is needed to say how long it is. */
export interface Measured {
  readonly width: number;
  readonly height: number;
  readonly a: Spot;
  readonly b: Spot;
  readonly aim_px100: number;
  readonly against: { readonly size_um: number; readonly tolerance_um: number; readonly a: Spot; readonly b: Spot };
}

/** Distances shorter than this many times the aim say nothing. */
const LEAST_AIMS = 10;
const COVERAGE = 2;

/** A length and its expanded uncertainty (k = 2), whole micrometres; the uncertainty is rounded up. */
export interface Said {
  readonly um: number;
  readonly plus_minus_um: number;
}

/** What a length says; undefined where its points or those of its reference lie too near to each other. */
export function saidBy(length: Measured): Said | undefined {
  const aim = length.aim_px100 / 100;
  const seen = distance(length, length.a, length.b);
  const known = distance(length, length.against.a, length.against.b);
  if (seen < LEAST_AIMS * aim || known < LEAST_AIMS * aim) return undefined;
  const size = length.against.size_um;
  const um = (size * seen) / known;
  const ofPoints = (2 * aim * aim) / 3;
  const ofSize = (length.against.tolerance_um * length.against.tolerance_um) / 3;
  const share = Math.sqrt(ofPoints / (seen * seen) + ofPoints / (known * known) + ofSize / (size * size));
  return { um: Math.floor(um + 0.5), plus_minus_um: Math.ceil(COVERAGE * um * share) };
}

/** Pixels of the photo between two points. */
function distance({ width, height }: Measured, a: Spot, b: Spot): number {
  const across = ((b.x - a.x) * width) / 10000;
  const down = ((b.y - a.y) * height) / 10000;
  return Math.sqrt(across * across + down * down);
}

/** Millimetres with as many decimals as the uncertainty has meaning: two below 1 mm, else one; the uncertainty rounded up. */
export function mmSaid({ um, plus_minus_um }: Said): { readonly mm: number; readonly plusMinus: number } {
  const step = plus_minus_um < 1000 ? 10 : 100;
  return { mm: Math.round(um / step) * step / 1000, plusMinus: Math.ceil(plus_minus_um / step) * step / 1000 };
}
