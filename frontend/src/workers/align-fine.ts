/** Makes a laying finer: Gauss-Newton on turn, size and shift (Lucas and Kanade 1981), brightness and contrast apart. */
import { warped, type Laying, type Square } from "./align-warp";

const STEPS = 30;
/** Corners that move less than this in a step have arrived, px of the square. */
const STILL = 0.005;

/** `laying` goes from then to now; the answer is where now, seen there, is most like then. Undefined where it runs away. */
export function finer(then: Square, now: Square, laying: Laying): Laying | undefined {
  let at = laying;
  for (let step = 0; step < STEPS; step += 1) {
    const moved = stepped(then, now, at);
    if (moved === undefined) return undefined;
    at = moved.laying;
    if (moved.by < STILL) break;
  }
  return at;
}

function stepped(then: Square, now: Square, laying: Laying): { readonly laying: Laying; readonly by: number } | undefined {
  const { side } = then;
  const seen = warped(now, laying);
  const even = evened(then, seen);
  if (even === undefined) return undefined;
  const middle = (side - 1) / 2;
  // Normal equations of four unknowns: the change of a, b, x0, y0.
  const left = Array.from({ length: 4 }, () => [0, 0, 0, 0]);
  const right = [0, 0, 0, 0];
  // Along the seen picture's own rows and columns the grey changes by (gx, gy); the laying turns that back to now's.
  const square = laying.a * laying.a + laying.b * laying.b;
  for (let y = 1; y < side - 1; y += 1) {
    for (let x = 1; x < side - 1; x += 1) {
      const i = y * side + x;
      if ((then.inside[i]! & seen.inside[i]! & seen.inside[i - 1]! & seen.inside[i + 1]! & seen.inside[i - side]! & seen.inside[i + side]!) === 0) continue;
      const sx = ((seen.values[i + 1]! - seen.values[i - 1]!) / 2) * even.gain;
      const sy = ((seen.values[i + side]! - seen.values[i - side]!) / 2) * even.gain;
      const gx = (laying.a * sx - laying.b * sy) / square;
      const gy = (laying.b * sx + laying.a * sy) / square;
      const [u, v] = [x - middle, y - middle];
      const error = then.values[i]! - (seen.values[i]! * even.gain + even.lift);
      // What changed between the photos is no reason to move: far-off values count less (Huber's weights).
      const weight = Math.abs(error) <= even.spread ? 1 : even.spread / Math.abs(error);
      const row = [gx * u + gy * v, gy * u - gx * v, gx, gy];
      for (let r = 0; r < 4; r += 1) {
        right[r]! += weight * row[r]! * error;
        for (let c = 0; c < 4; c += 1) left[r]![c]! += weight * row[r]! * row[c]!;
      }
    }
  }
  const change = solved(left, right);
  if (change === undefined) return undefined;
  const [a = 0, b = 0, x0 = 0, y0 = 0] = change;
  const by = Math.hypot(a, b) * (side / 2) * Math.SQRT2 + Math.hypot(x0, y0);
  if (by > side / 8) return undefined;
  return { laying: { a: laying.a + a, b: laying.b + b, x0: laying.x0 + x0, y0: laying.y0 + y0 }, by };
}

/** Gain and lift that make the seen picture as bright and as contrasted as the other, and the spread of what is left. */
function evened(one: Square, two: Square): { readonly gain: number; readonly lift: number; readonly spread: number } | undefined {
  let [n, sa, sb, aa, bb, ab] = [0, 0, 0, 0, 0, 0];
  for (let i = 0; i < one.values.length; i += 1) {
    if ((one.inside[i]! & two.inside[i]!) === 0) continue;
    const [a, b] = [one.values[i]!, two.values[i]!];
    [n, sa, sb, aa, bb, ab] = [n + 1, sa + a, sb + b, aa + a * a, bb + b * b, ab + a * b];
  }
  const spreadOfTwo = bb - (sb * sb) / n;
  if (n < one.values.length / 10 || !(spreadOfTwo > 0)) return undefined;
  const gain = Math.sqrt(Math.max(0, aa - (sa * sa) / n) / spreadOfTwo);
  const lift = sa / n - (gain * sb) / n;
  let left = 0;
  for (let i = 0; i < one.values.length; i += 1) {
    if ((one.inside[i]! & two.inside[i]!) === 1) left += Math.abs(one.values[i]! - (two.values[i]! * gain + lift));
  }
  return { gain, lift, spread: Math.max(1e-6, (1.5 * left) / n) };
}

/** Four equations, by elimination with the largest first; undefined where they do not say one thing. */
function solved(left: number[][], right: number[]): number[] | undefined {
  const rows = left.map((row, i) => [...row, right[i]!]);
  for (let c = 0; c < 4; c += 1) {
    const best = rows.slice(c).reduce((most, row, i) => (Math.abs(row[c]!) > Math.abs(rows[most]![c]!) ? c + i : most), c);
    [rows[c], rows[best]] = [rows[best]!, rows[c]!];
    const pivot = rows[c]![c]!;
    if (!(Math.abs(pivot) > 1e-9)) return undefined;
    for (let r = 0; r < 4; r += 1) {
      if (r === c) continue;
      const share = rows[r]![c]! / pivot;
      for (let k = c; k < 5; k += 1) rows[r]![k]! -= share * rows[c]![k]!;
    }
  }
  return rows.map((row, i) => row[4]! / row[i]!);
}
