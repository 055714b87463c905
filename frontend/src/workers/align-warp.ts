/** Pictures as squares of numbers, and how one is laid over another: turned, sized and shifted, nothing else. */

/** Grey values of a square, row by row, and which of them belong to the picture (1) and not to the margin (0). */
export interface Square {
  readonly side: number;
  readonly values: Float32Array;
  readonly inside: Uint8Array;
}

/**
 * From a point (x, y) of the one picture to the same thing in the other, both measured from the middle of their squares,
 * in pixels of the square: (a x - b y + x0, b x + a y + y0). a = size cos(turn), b = size sin(turn).
 */
export interface Laying {
  readonly a: number;
  readonly b: number;
  readonly x0: number;
  readonly y0: number;
}

export const AS_IT_IS: Laying = { a: 1, b: 0, x0: 0, y0: 0 };

export function layingOf(size: number, turn: number, x0 = 0, y0 = 0): Laying {
  return { a: size * Math.cos(turn), b: size * Math.sin(turn), x0, y0 };
}

export const sizeOf = ({ a, b }: Laying): number => Math.hypot(a, b);

/** The way back. */
export function backOf({ a, b, x0, y0 }: Laying): Laying {
  const square = a * a + b * b;
  const [c, d] = [a / square, -b / square];
  return { a: c, b: d, x0: -(c * x0 - d * y0), y0: -(d * x0 + c * y0) };
}

/** First `one`, then `two`. */
export function after(one: Laying, two: Laying): Laying {
  return {
    a: two.a * one.a - two.b * one.b,
    b: two.b * one.a + two.a * one.b,
    x0: two.a * one.x0 - two.b * one.y0 + two.x0,
    y0: two.b * one.x0 + two.a * one.y0 + two.y0,
  };
}

/** How far the corners of a square move between two layings, in pixels: the most of the four. */
export function apart(one: Laying, two: Laying, side: number): number {
  const half = side / 2;
  return Math.max(...[[-half, -half], [half, -half], [-half, half], [half, half]].map(([x = 0, y = 0]) => Math.hypot(
    (one.a - two.a) * x - (one.b - two.b) * y + one.x0 - two.x0,
    (one.b - two.b) * x + (one.a - two.a) * y + one.y0 - two.y0,
  )));
}

/** `from` as seen where `to` lies: value at p of the answer is that of `from` at laying(p). Between pixels: bilinear. */
export function warped(from: Square, laying: Laying): Square {
  const { side } = from;
  const values = new Float32Array(side * side);
  const inside = new Uint8Array(side * side);
  const middle = (side - 1) / 2;
  for (let y = 0, at = 0; y < side; y += 1) {
    for (let x = 0; x < side; x += 1, at += 1) {
      const u = laying.a * (x - middle) - laying.b * (y - middle) + laying.x0 + middle;
      const v = laying.b * (x - middle) + laying.a * (y - middle) + laying.y0 + middle;
      const left = Math.floor(u);
      const top = Math.floor(v);
      if (left < 0 || top < 0 || left + 1 >= side || top + 1 >= side) continue;
      const i = top * side + left;
      if ((from.inside[i]! & from.inside[i + 1]! & from.inside[i + side]! & from.inside[i + side + 1]!) === 0) continue;
      const p = u - left;
      const q = v - top;
      values[at] = (from.values[i]! * (1 - p) + from.values[i + 1]! * p) * (1 - q) + (from.values[i + side]! * (1 - p) + from.values[i + side + 1]! * p) * q;
      inside[at] = 1;
    }
  }
  return { side, values, inside };
}

/** The picture at half its size: the mean of each four pixels, of the picture where all four are. */
export function halved({ side, values, inside }: Square): Square {
  const half = side / 2;
  const out = { side: half, values: new Float32Array(half * half), inside: new Uint8Array(half * half) };
  for (let y = 0, at = 0; y < half; y += 1) {
    for (let x = 0; x < half; x += 1, at += 1) {
      const i = 2 * y * side + 2 * x;
      out.values[at] = (values[i]! + values[i + 1]! + values[i + side]! + values[i + side + 1]!) / 4;
      out.inside[at] = inside[i]! & inside[i + 1]! & inside[i + side]! & inside[i + side + 1]!;
    }
  }
  return out;
}

/** The same laying in a square of twice the side. */
export const doubled = (laying: Laying): Laying => ({ ...laying, x0: 2 * laying.x0, y0: 2 * laying.y0 });

/** The picture smoothed by a box of 2 r + 1 pixels, `times` times; only pixels of the picture count. */
export function smoothed(square: Square, r: number, times = 2): Square {
  let { values } = square;
  for (let i = 0; i < times; i += 1) values = boxed(boxed(values, square, r, false), square, r, true);
  return { ...square, values };
}

function boxed(values: Float32Array, { side, inside }: Square, r: number, down: boolean): Float32Array {
  const out = new Float32Array(values.length);
  const [step, stride] = down ? [side, 1] : [1, side];
  for (let lane = 0; lane < side; lane += 1) {
    const from = lane * stride;
    let sum = 0;
    let count = 0;
    for (let i = -r; i < side; i += 1) {
      const come = from + (i + r) * step;
      if (i + r < side && inside[come] === 1) [sum, count] = [sum + values[come]!, count + 1];
      const gone = from + (i - r - 1) * step;
      if (i - r - 1 >= 0 && inside[gone] === 1) [sum, count] = [sum - values[gone]!, count - 1];
      if (i >= 0 && count > 0) out[from + i * step] = sum / count;
    }
  }
  return out;
}

/** How steep the grey is at each pixel (central differences); the picture's edge belongs to it no more. */
export function edges({ side, values, inside }: Square): Square {
  const out = new Float32Array(values.length);
  const still = new Uint8Array(values.length);
  for (let y = 1; y < side - 1; y += 1) {
    for (let x = 1; x < side - 1; x += 1) {
      const i = y * side + x;
      if ((inside[i]! & inside[i - 1]! & inside[i + 1]! & inside[i - side]! & inside[i + side]!) === 0) continue;
      out[i] = Math.hypot(values[i + 1]! - values[i - 1]!, values[i + side]! - values[i - side]!);
      still[i] = 1;
    }
  }
  return { side, values: out, inside: still };
}

/** Normalised cross-correlation over the pixels that both have, -1 to 1, and the share of the square that is. */
export function alike(one: Square, two: Square): { readonly ncc: number; readonly share: number } {
  let [n, sa, sb, aa, bb, ab] = [0, 0, 0, 0, 0, 0];
  for (let i = 0; i < one.values.length; i += 1) {
    if ((one.inside[i]! & two.inside[i]!) === 0) continue;
    const [a, b] = [one.values[i]!, two.values[i]!];
    n += 1;
    sa += a;
    sb += b;
    aa += a * a;
    bb += b * b;
    ab += a * b;
  }
  const spread = Math.sqrt((aa - (sa * sa) / n) * (bb - (sb * sb) / n));
  return { ncc: n === 0 || !(spread > 0) ? 0 : (ab - (sa * sb) / n) / spread, share: n / one.values.length };
}
