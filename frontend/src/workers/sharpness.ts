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

/**
 * Pixels of four bytes to grey by the weights of ITU-R BT.601, in the whole numbers that Pillow uses (fractions of
 * 65536, rounded). `first` is the colour of the first byte. `into` takes the values where it has their number: a frame
 * then leaves nothing to throw away.
 */
export function greyOf(colours: Uint8Array | Uint8ClampedArray, width: number, height: number, into?: Uint8Array, first: "red" | "blue" = "red"): Grey {
  const values = into?.length === width * height ? into : new Uint8Array(width * height);
  const [low, high] = first === "red" ? [19595, 7471] : [7471, 19595];
  // One read a pixel: its first byte lies lowest, on every machine a browser runs on (all are little-endian).
  const pixels = new Uint32Array(colours.buffer, colours.byteOffset, values.length);
  for (let at = 0; at < values.length; at += 1) {
    const pixel = pixels[at]!;
    values[at] = (Math.imul(pixel & 255, low) + Math.imul((pixel >>> 8) & 255, 38470) + Math.imul((pixel >>> 16) & 255, high) + 0x8000) >> 16;
  }
  return { width, height, values };
}

/** All of it at once. */
export function measure(grey: Grey): Measured {
  return gauge(grey).measured;
}

/** All of it, and the sums over squares of four pixels on the way to it, which the next picture is laid over. */
export function gauge(grey: Grey): { readonly measured: Measured; readonly fours: Sums } {
  const { width, height, values } = grey;
  const tiles = { rows: Math.floor(height / TILE), columns: Math.floor(width / TILE) };
  const counts = countsOf(values);
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
  const { fours, ...edges } = edgesOf(grey);
  const measured = {
    ...(whites.length === 0 ? { sharpness: 0, crisp: 0 } : edges),
    mean: values.length === 0 ? 0 : Math.floor(total / values.length + 0.5),
    white: thousandths(white, values.length),
    glare: thousandths(glare, whites.length),
    low: under(counts, 2, values.length),
    high: under(counts, 98, values.length),
  };
  return { measured, fours };
}

/** Four tables by turns: neighbours are often of one grey, and a count that waits for the one before costs twice. */
const turns = new Uint32Array(4 * 256);

/** How many pixels have each grey. */
function countsOf(values: Uint8Array): Uint32Array {
  turns.fill(0);
  const whole = values.length & ~3;
  for (let at = 0; at < whole; at += 4) {
    turns[values[at]!]! += 1;
    turns[256 + values[at + 1]!]! += 1;
    turns[512 + values[at + 2]!]! += 1;
    turns[768 + values[at + 3]!]! += 1;
  }
  for (let at = whole; at < values.length; at += 1) turns[values[at]!]! += 1;
  const counts = turns.slice(0, 256);
  for (let grey = 0; grey < 256; grey += 1) counts[grey]! += turns[256 + grey]! + turns[512 + grey]! + turns[768 + grey]!;
  return counts;
}

interface Tiles {
  readonly rows: number;
  readonly columns: number;
}

/**
 * Whole numbers laid row by row: greys, and sums of 4 and of 16 of them, which two bytes hold. Greys have two bytes here
 * too: a loop that meets arrays of two kinds takes three times as long (measured, Chromium 150).
 */
export interface Sums {
  readonly width: number;
  readonly height: number;
  readonly values: Uint16Array;
}

/** Greys and sums of the last picture; the next of its size is laid over them, since a frame is measured in one go. */
let [sums1, sums2, sums4, sums8] = [new Uint16Array(0), new Uint16Array(0), new Uint16Array(0), new Uint16Array(0)];

/**
 * The edges' energy at one pixel against that at four and at two.
 *
 * The energy of a step is the product of two differences that have no pixel in common, so that sensor noise, which is
 * not the same in both, adds nothing on average. The ratio takes out light, gain and most of the scene: blur alone
 * moves it. Taken over the whole picture: a choice of tiles changes with the light.
 */
function edgesOf({ width, height, values }: Grey): Pick<Measured, "sharpness" | "crisp"> & { readonly fours: Sums } {
  const [of2, of4] = [(width >> 1) * (height >> 1), (width >> 2) * (height >> 2)];
  if (sums1.length !== values.length) sums1 = new Uint16Array(values.length);
  if (sums2.length !== of2 || sums4.length !== of4) [sums2, sums4, sums8] = [new Uint16Array(of2), new Uint16Array(of4), new Uint16Array(of4 >> 2)];
  sums1.set(values);
  const one = energy({ width, height, values: sums1 }, 255, sums2);
  const two = energy({ width: width >> 1, height: height >> 1, values: sums2 }, 4 * 255, sums4);
  const fours = { width: width >> 2, height: height >> 2, values: sums4 };
  const four = energy(fours, 16 * 255, sums8);
  if (4 * four < 16 * LEAST_EDGES * values.length || two <= 0) return { sharpness: 0, crisp: 0, fours };
  return {
    sharpness: Math.max(0, Math.floor((one * 16000) / four + 0.5)),
    crisp: Math.max(0, Math.floor((one * 4000) / two + 0.5)),
    fours,
  };
}

/**
 * Horizontal steps of two rows multiplied, and vertical ones of two columns, over the picture; and into `boxes` the sums
 * over squares of two (what is left over at the right and below is in none).
 *
 * Both in one walk, two rows and two columns a step, so that a pixel is read twice instead of five times. `most` is the
 * greatest value there can be: as many products as a whole number of 32 bits surely holds are summed in one, since
 * summing each as a fraction costs three times that.
 */
function energy({ width, height, values }: Sums, most: number, boxes: Uint16Array): number {
  const run = 2 * (Math.floor(2 ** 31 / (8 * most * most)) - 1);
  let total = 0;
  let into = 0;
  let y = 0;
  for (; y < height - 3 && width > 2; y += 2) {
    const [row0, row1, row2, row3] = [y * width, (y + 1) * width, (y + 2) * width, (y + 3) * width];
    // The two columns to the left of a step, even and odd, in three rows; the odd one's steps down, of both rows.
    let [e0, e1, e2] = [values[row0]!, values[row1]!, values[row2]!];
    let [o0, o1, o2] = [values[row0 + 1]!, values[row1 + 1]!, values[row2 + 1]!];
    let [down0, down1] = [o2 - o0, values[row3 + 1]! - o1];
    total += (e2 - e0) * down0 + (values[row3]! - e1) * down1;
    boxes[into] = e0 + e1 + o0 + o1;
    into += 1;
    for (let x = 2, end = width & ~1; x < end; ) {
      let part = 0;
      for (const stop = Math.min(end, x + run); x < stop; x += 2) {
        const a0 = values[row0 + x]!;
        const a1 = values[row1 + x]!;
        const a2 = values[row2 + x]!;
        const b0 = values[row0 + x + 1]!;
        const b1 = values[row1 + x + 1]!;
        const b2 = values[row2 + x + 1]!;
        const even0 = a2 - a0;
        const even1 = values[row3 + x]! - a1;
        const odd0 = b2 - b0;
        const odd1 = values[row3 + x + 1]! - b1;
        const across = Math.imul(a1 - e1, a0 - e0 + a2 - e2) + Math.imul(b1 - o1, b0 - o0 + b2 - o2);
        part = (part + across + Math.imul(even0, down0 + odd0) + Math.imul(even1, down1 + odd1)) | 0;
        boxes[into] = a0 + b0 + a1 + b1;
        into += 1;
        e0 = a0;
        e1 = a1;
        e2 = a2;
        o0 = b0;
        o1 = b1;
        o2 = b2;
        down0 = odd0;
        down1 = odd1;
      }
      total += part;
    }
    const last = width - 1;
    if (width % 2 === 0) {
      // The last column has no column of its own to step with.
      total -= (values[row2 + last - 1]! - values[row0 + last - 1]!) * down0 + (values[row3 + last - 1]! - values[row1 + last - 1]!) * down1;
    } else total += (values[row1 + last]! - e1) * (values[row0 + last]! - e0 + values[row2 + last]! - e2);
  }
  for (; y < height - 1; y += 2) {
    if (y < height - 2) total += rowEnergy(values, width, y * width);
    for (let at = y * width, end = at + (width & ~1); at < end; at += 2) {
      boxes[into] = values[at]! + values[at + 1]! + values[at + width]! + values[at + width + 1]!;
      into += 1;
    }
  }
  return total;
}

/** The energy of one row as it is defined, for the last row of a picture with an odd number of them. */
function rowEnergy(values: Uint16Array, width: number, top: number): number {
  let total = 0;
  for (let a = top, end = top + width - 2; a < end; a += 1) {
    const [b, c] = [a + width, a + 2 * width];
    total += (values[a + 2]! - values[a]!) * (values[b + 2]! - values[b]!) + (values[c]! - values[a]!) * (values[c + 1]! - values[a + 1]!);
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
