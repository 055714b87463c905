/**
 * Where one picture lies in another: turn and size from the log-polar picture of their spectra, shift by phase
 * correlation (Reddy and Chatterji 1996, Kuglin and Hines 1975), then made finer by Gauss-Newton on the grey values.
 */
import { complexOf, transform, type Complex } from "./align-fft";
import { layingOf, warped, type Laying, type Square } from "./align-warp";

/** A laying that was found, and how far its peak stands above the next one elsewhere. */
export interface Found {
  readonly laying: Laying;
  readonly peak: number;
  readonly ratio: number;
}

/** Turns and sizes that are tried on, the likeliest of the log-polar correlation. */
const TRIED = 3;
const LEAST_SIZE = 0.5;
const MOST_SIZE = 2;

/** Share of the side over which a picture fades out towards its own edge. */
const FADE = 1 / 8;

/** Picture less its mean, faded to nothing towards its own edge, so that the edge is no line that both pictures have. */
function faded(square: Square): Complex {
  const { side, values, inside } = square;
  let [sum, count] = [0, 0];
  for (let i = 0; i < values.length; i += 1) if (inside[i] === 1) [sum, count] = [sum + values[i]!, count + 1];
  const mean = count === 0 ? 0 : sum / count;
  const fade = fadeOf(square);
  const out = complexOf(side, new Float64Array(side * side));
  for (let i = 0; i < values.length; i += 1) if (inside[i] === 1) out.re[i] = (values[i]! - mean) * fade[i]!;
  return out;
}

/** 0 at the edge of the picture, 1 well within: the share of a box round each pixel that lies in the picture, twice. */
function fadeOf({ side, inside }: Square): Float64Array {
  const r = Math.round((side * FADE) / 2);
  let mask = Float64Array.from(inside);
  for (const [step, stride] of [[1, side], [side, 1]] as const) {
    const out = new Float64Array(mask.length);
    for (let lane = 0; lane < side; lane += 1) {
      let sum = 0;
      for (let i = -r; i < side; i += 1) {
        if (i + r < side) sum += mask[lane * stride + (i + r) * step]!;
        if (i - r - 1 >= 0) sum -= mask[lane * stride + (i - r - 1) * step]!;
        if (i >= 0) out[lane * stride + i * step] = Math.max(0, (2 * sum) / (2 * r + 1) - 1);
      }
    }
    mask = out;
  }
  return mask.map((share) => share * share * (3 - 2 * share));
}

/** What a picture is asked for again and again. */
export interface Spectrum {
  readonly square: Square;
  readonly polar: Complex;
  readonly whole: Complex;
}

const RINGS_FROM = 4;

export function spectrumOf(square: Square): Spectrum {
  const whole = faded(square);
  transform(whole);
  const polar = logPolar(whole);
  transform(polar);
  return { square, whole, polar };
}

/** Sizes of the log-polar picture: as many steps of size as of turn; half a turn is all a spectrum has. */
const stepOfSize = (side: number): number => Math.log(side / 2 / RINGS_FROM) / side;

function logPolar({ side, re, im }: Complex): Complex {
  const strength = new Float64Array(side * side);
  for (let i = 0; i < strength.length; i += 1) strength[i] = Math.log1p(Math.hypot(re[i]!, im[i]!));
  const out = complexOf(side, strength);
  const step = stepOfSize(side);
  let sum = 0;
  for (let t = 0; t < side; t += 1) {
    const turn = (Math.PI * t) / side;
    const [c, s] = [Math.cos(turn), Math.sin(turn)];
    for (let r = 0; r < side; r += 1) {
      const radius = RINGS_FROM * Math.exp(step * r);
      const value = sample(strength, side, radius * c, radius * s);
      out.re[t * side + r] = value;
      sum += value;
    }
  }
  // Rings fall off outwards whatever the picture: each is set against its own mean, faded at both ends.
  for (let r = 0; r < side; r += 1) {
    let ring = 0;
    for (let t = 0; t < side; t += 1) ring += out.re[t * side + r]!;
    ring /= side;
    const fade = Math.sin((Math.PI * (r + 0.5)) / side);
    for (let t = 0; t < side; t += 1) out.re[t * side + r] = (out.re[t * side + r]! - ring) * fade;
  }
  return sum === 0 ? complexOf(side, new Float64Array(side * side)) : out;
}

/** The spectrum at a frequency that may lie between two; it goes round. */
function sample(strength: Float64Array, side: number, x: number, y: number): number {
  const left = Math.floor(x);
  const top = Math.floor(y);
  const p = x - left;
  const q = y - top;
  const at = (u: number, v: number): number => strength[((v + side) % side) * side + ((u + side) % side)]!;
  return (at(left, top) * (1 - p) + at(left + 1, top) * p) * (1 - q) + (at(left, top + 1) * (1 - p) + at(left + 1, top + 1) * p) * q;
}

/** Phase correlation of two transforms: where the second lies against the first, as a surface of the square. */
function correlated(one: Complex, two: Complex): Float64Array {
  const { side } = one;
  const out = complexOf(side, new Float64Array(side * side));
  for (let i = 0; i < out.re.length; i += 1) {
    const re = two.re[i]! * one.re[i]! + two.im[i]! * one.im[i]!;
    const im = two.im[i]! * one.re[i]! - two.re[i]! * one.im[i]!;
    const size = Math.hypot(re, im);
    if (size > 1e-12) [out.re[i], out.im[i]] = [re / size, im / size];
  }
  transform(out, true);
  return out.re;
}

interface Peak {
  readonly x: number;
  readonly y: number;
  readonly value: number;
}

/** The highest places of a surface, each at least `reach` away from the ones before; a fraction of a pixel by a parabola. */
function peaksOf(surface: Float64Array, side: number, most: number, reach: number, may: (x: number, y: number) => boolean = () => true): Peak[] {
  const peaks: Peak[] = [];
  const round = (value: number): number => (value > side / 2 ? value - side : value);
  while (peaks.length < most) {
    let best: Peak | undefined;
    for (let y = 0; y < side; y += 1) {
      for (let x = 0; x < side; x += 1) {
        const value = surface[y * side + x]!;
        if (best !== undefined && value <= best.value) continue;
        const near = peaks.some((peak) => gap(peak.x - round(x), side) <= reach && gap(peak.y - round(y), side) <= reach);
        if (!near && may(round(x), round(y))) best = { x: round(x), y: round(y), value };
      }
    }
    if (best === undefined) break;
    peaks.push(best);
  }
  return peaks.map((peak) => finer(surface, side, peak));
}

const gap = (distance: number, side: number): number => Math.min(Math.abs(distance), side - Math.abs(distance));

function finer(surface: Float64Array, side: number, { x, y, value }: Peak): Peak {
  const at = (u: number, v: number): number => surface[((v + side) % side) * side + ((u + side) % side)]!;
  const bend = (low: number, high: number): number => {
    const curve = low - 2 * value + high;
    return curve >= 0 ? 0 : Math.max(-0.5, Math.min(0.5, (low - high) / (2 * curve)));
  };
  return { x: x + bend(at(x - 1, y), at(x + 1, y)), y: y + bend(at(x, y - 1), at(x, y + 1)), value };
}

/** Where `now` shows what `then` shows, or undefined where nothing stands out at all. */
export function found(then: Spectrum, now: Spectrum): Found | undefined {
  const { side } = then.square;
  const step = stepOfSize(side);
  const mostSteps = Math.log(MOST_SIZE) / step;
  const surface = correlated(then.polar, now.polar);
  const turns = peaksOf(surface, side, TRIED, 3, (x) => x >= -mostSteps && x <= Math.log(1 / LEAST_SIZE) / step);
  let best: Found | undefined;
  for (const { x, y } of turns) {
    // A spectrum shrinks as its picture grows, and turns with it; a half turn looks the same to it.
    const size = Math.exp(-step * x);
    for (const turn of [(Math.PI * y) / side, (Math.PI * y) / side + Math.PI]) {
      const laid = shifted(then.square, now, size, turn);
      if (best === undefined || laid.peak > best.peak) best = laid;
    }
  }
  return best;
}

/** With turn and size known: the shift. */
function shifted(then: Square, now: Spectrum, size: number, turn: number): Found {
  const { side } = then;
  const turned = layingOf(1 / size, -turn);
  const one = faded(warped(then, turned));
  transform(one);
  const surface = correlated(one, now.whole);
  const [first, second] = peaksOf(surface, side, 2, 6);
  if (first === undefined || second === undefined) return { laying: layingOf(size, turn), peak: 0, ratio: 0 };
  return { laying: layingOf(size, turn, first.x, first.y), peak: first.value, ratio: first.value / Math.max(second.value, 1e-9) };
}
