/** How sharp, bright and clear a picture is: the same numbers as the server's `looking/sharpness.py` for the same pixels. */

/** Long edge in pixels of the picture measured. Larger ones are shrunk to it first, smaller ones left. */
export const MEASURED_EDGE = 640;

/** Edge in pixels of the tiles in which glare is looked for. */
const TILE = 32;
/** A grey value from here on is taken for white without detail. */
const WHITE_FROM = 250;
/** Quarters of squared steps of grey a pixel; under it there are no edges to measure. */
const LEAST_EDGES = 2;

/** Grey values 0 to 255, row by row. */
export interface Grey {
  readonly width: number;
  readonly height: number;
  readonly values: Uint8Array;
}

/** What is measured of one picture. */
export interface Measured {
  /**
   * Thousandths: energy of the edges at one pixel to that at four; 0 where there is nothing to measure. It ranks
   * pictures of one thing.
   */
  readonly sharpness: number;
  /**
   * The same at one pixel to two: 250 is no detail at all, and what blur leaves of it depends little on the scene, so
   * that pictures of different things can be compared.
   */
  readonly crisp: number;
  /** Mean grey, 0 (black) to 255. */
  readonly mean: number;
  /** Thousandths of the picture that are white without detail. */
  readonly white: number;
  /** Thousandths of the tiles that are white for more than half. */
  readonly glare: number;
  /** The greys under which 2 % and 98 % of the picture lie. */
  readonly low: number;
  readonly high: number;
}

/** RGBA to grey by the weights of ITU-R BT.601, in the whole numbers that Pillow uses (fractions of 65536, rounded). */
export function greyOf(rgba: Uint8ClampedArray, width: number, height: number): Grey {
  const values = new Uint8Array(width * height);
  for (let i = 0, at = 0; i < values.length; i += 1, at += 4) {
    values[i] = (rgba[at]! * 19595 + rgba[at + 1]! * 38470 + rgba[at + 2]! * 7471 + 0x8000) >> 16;
  }
  return { width, height, values };
}

/** All of it at once. */
export function measure(grey: Grey): Measured {
  const { width, height, values } = grey;
  const tiles = { rows: Math.floor(height / TILE), columns: Math.floor(width / TILE) };
  const counts = new Uint32Array(256);
  for (let at = 0; at < values.length; at += 1) counts[values[at]!]! += 1;
  let total = 0;
  let white = 0;
  counts.forEach((count, value) => {
    total += count * value;
    if (value >= WHITE_FROM) white += count;
  });
  // Most pictures have no white pixel, and so none to look for.
  const whites = white === 0 ? new Uint32Array(tiles.rows * tiles.columns) : whiteTiles(grey, tiles);
  let glare = 0;
  for (const count of whites) if (2 * count > TILE * TILE) glare += 1;
  const edges = whites.length === 0 ? { sharpness: 0, crisp: 0 } : edgesOf(grey);
  return {
    ...edges,
    mean: values.length === 0 ? 0 : Math.floor(total / values.length + 0.5),
    white: thousandths(white, values.length),
    glare: thousandths(glare, whites.length),
    low: under(counts, 2, values.length),
    high: under(counts, 98, values.length),
  };
}

interface Tiles {
  readonly rows: number;
  readonly columns: number;
}

/** Whole numbers laid row by row. */
interface Sums {
  readonly width: number;
  readonly height: number;
  readonly values: Int32Array;
}

/**
 * The edges' energy at one pixel against that at four and at two.
 *
 * The energy of a step is the product of two differences that have no pixel in common, so that sensor noise, which is
 * not the same in both, adds nothing on average. The ratio takes out light, gain and most of the scene: blur alone
 * moves it. Taken over the whole picture: a choice of tiles changes with the light.
 */
function edgesOf(grey: Grey): Pick<Measured, "sharpness" | "crisp"> {
  const by1 = { width: grey.width, height: grey.height, values: new Int32Array(grey.values) };
  const by2 = boxes(by1);
  const by4 = boxes(by2);
  const [one, two, four] = [energy(by1), energy(by2), energy(by4)];
  if (4 * four < 16 * LEAST_EDGES * grey.values.length || two <= 0) return { sharpness: 0, crisp: 0 };
  return {
    sharpness: Math.max(0, Math.floor((one * 16000) / four + 0.5)),
    crisp: Math.max(0, Math.floor((one * 4000) / two + 0.5)),
  };
}

/** Sums over squares of two; what is left over at the right and below is in none. */
function boxes({ width: from, height: high, values }: Sums): Sums {
  const width = from >> 1;
  const height = high >> 1;
  const sums = new Int32Array(width * height);
  for (let y = 0, into = 0; y < height; y += 1) {
    for (let at = 2 * y * from, end = at + 2 * width; at < end; at += 2) {
      sums[into] = values[at]! + values[at + 1]! + values[at + from]! + values[at + from + 1]!;
      into += 1;
    }
  }
  return { width, height, values: sums };
}

/**
 * Horizontal steps of two rows multiplied, and vertical ones of two columns, over the picture. The pixels of three rows
 * go along in variables, so that each is read once.
 */
function energy({ width, height, values }: Sums): number {
  let total = 0;
  for (let y = 0; y < height - 2; y += 1) {
    const top = y * width;
    let a = values[top]!;
    let a1 = values[top + 1]!;
    let b = values[top + width]!;
    let b1 = values[top + width + 1]!;
    let c = values[top + 2 * width]!;
    for (let at = top + 2, end = top + width; at < end; at += 1) {
      const a2 = values[at]!;
      const b2 = values[at + width]!;
      const c1 = values[at + 2 * width - 1]!;
      total += Math.imul(a2 - a, b2 - b) + Math.imul(c - a, c1 - a1);
      a = a1;
      a1 = a2;
      b = b1;
      b1 = b2;
      c = c1;
    }
  }
  return total;
}

function whiteTiles({ width, values }: Grey, { rows, columns }: Tiles): Uint32Array {
  const whites = new Uint32Array(rows * columns);
  for (let y = 0; y < rows * TILE; y += 1) {
    const row = Math.floor(y / TILE) * columns;
    for (let x = 0, at = y * width; x < columns * TILE; x += 1, at += 1) {
      if (values[at]! >= WHITE_FROM) whites[row + (x >> 5)]! += 1;
    }
  }
  return whites;
}

/** The first grey at which at least `percent` of the pixels are reached; 0 for an empty picture. */
function under(counts: Uint32Array, percent: number, size: number): number {
  let seen = 0;
  for (let value = 0; value < 256 && size > 0; value += 1) {
    seen += counts[value]!;
    if (seen * 100 >= percent * size) return value;
  }
  return 0;
}

function thousandths(part: number, whole: number): number {
  return whole === 0 ? 0 : Math.floor((part * 1000) / whole);
}
