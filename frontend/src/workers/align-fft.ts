/**
 * The discrete Fourier transform of a square picture whose side is a power of two: radix-2, in place (Cooley and Tukey
 * 1965). Written here because the small packages for it are years without care; held against numpy.fft by a test.
 */

/** Complex values of a square, row by row: real and imaginary parts apart. */
export interface Complex {
  readonly side: number;
  readonly re: Float64Array;
  readonly im: Float64Array;
}

export function complexOf(side: number, real: ArrayLike<number>): Complex {
  return { side, re: Float64Array.from(real), im: new Float64Array(side * side) };
}

/** Both ways, in place; the way back divides by the number of values. */
export function transform({ side, re, im }: Complex, back = false): void {
  const line = { re: new Float64Array(side), im: new Float64Array(side) };
  const plan = planOf(side, back);
  for (let y = 0; y < side; y += 1) {
    run(re.subarray(y * side, (y + 1) * side), im.subarray(y * side, (y + 1) * side), plan);
  }
  for (let x = 0; x < side; x += 1) {
    for (let y = 0; y < side; y += 1) {
      line.re[y] = re[y * side + x]!;
      line.im[y] = im[y * side + x]!;
    }
    run(line.re, line.im, plan);
    for (let y = 0; y < side; y += 1) {
      re[y * side + x] = line.re[y]!;
      im[y * side + x] = line.im[y]!;
    }
  }
  if (!back) return;
  for (let i = 0; i < re.length; i += 1) {
    re[i]! /= re.length;
    im[i]! /= im.length;
  }
}

interface Plan {
  readonly reversed: Uint32Array;
  readonly cos: Float64Array;
  readonly sin: Float64Array;
}

function planOf(length: number, back: boolean): Plan {
  const bits = Math.log2(length);
  const reversed = Uint32Array.from({ length }, (_, i) => {
    let to = 0;
    for (let bit = 0; bit < bits; bit += 1) to |= ((i >> bit) & 1) << (bits - 1 - bit);
    return to;
  });
  const turn = ((back ? 2 : -2) * Math.PI) / length;
  return {
    reversed,
    cos: Float64Array.from({ length: length / 2 }, (_, i) => Math.cos(turn * i)),
    sin: Float64Array.from({ length: length / 2 }, (_, i) => Math.sin(turn * i)),
  };
}

function run(re: Float64Array, im: Float64Array, { reversed, cos, sin }: Plan): void {
  const { length } = re;
  for (let i = 0; i < length; i += 1) {
    const j = reversed[i]!;
    if (j <= i) continue;
    [re[i], re[j]] = [re[j]!, re[i]!];
    [im[i], im[j]] = [im[j]!, im[i]!];
  }
  for (let size = 2; size <= length; size *= 2) {
    const half = size / 2;
    const step = length / size;
    for (let from = 0; from < length; from += size) {
      for (let k = 0; k < half; k += 1) {
        const a = from + k;
        const b = a + half;
        const c = cos[k * step]!;
        const s = sin[k * step]!;
        const x = re[b]! * c - im[b]! * s;
        const y = re[b]! * s + im[b]! * c;
        re[b] = re[a]! - x;
        im[b] = im[a]! - y;
        re[a]! += x;
        im[a]! += y;
      }
    }
  }
}
