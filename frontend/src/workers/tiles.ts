/** Where in a picture detail shows: tile by tile, of the sums that are made for its sharpness anyway. */
import type { Sums } from "./sharpness";

/** Edge of a tile in squares of four pixels: 32 pixels. */
const TILE = 8;
/** Energy of a tile's steps over eight pixels, squared greys, under which there is nothing in it to tell by. */
export const LEAST_STEPS = 500;
/** Energy over four pixels to that over eight from which it shows detail. */
export const DETAIL_FROM = 1.8;

/** What one tile shows. */
export const NOTHING = 0;
export const SOFT = 1;
export const DETAIL = 2;

/** Row by row; what is left over at the right and below is in no tile. */
export interface Tiles {
  readonly columns: number;
  readonly shows: Uint8Array;
}

/**
 * For each tile whether it shows detail, softness, or nothing to tell by. As for the whole picture, a step is multiplied
 * by its neighbour's, which has no pixel in common with it, so that noise adds nothing on average.
 */
export function tilesOf(fours: Sums): Tiles {
  const [columns, rows] = [Math.floor(fours.width / TILE), Math.floor(fours.height / TILE)];
  const eights = halved(fours);
  const [fine, coarse] = [energies(fours, TILE, columns, rows), energies(eights, TILE / 2, columns, rows)];
  const shows = new Uint8Array(columns * rows);
  for (let at = 0; at < shows.length; at += 1) {
    // Sums of 16 and of 64 greys: their squares are 256 and 4096 times those of greys.
    const [steps, larger] = [fine[at]! / 256, coarse[at]! / 4096];
    shows[at] = larger < LEAST_STEPS ? NOTHING : steps >= DETAIL_FROM * larger ? DETAIL : SOFT;
  }
  return { columns, shows };
}

/** Sums over squares of two: of 64 greys then, which two bytes hold as well, so that all that is walked is of one kind. */
function halved({ width, height, values }: Sums): Sums {
  const [half, rows] = [width >> 1, height >> 1];
  const found = new Uint16Array(half * rows);
  for (let y = 0, into = 0; y < rows; y += 1) {
    for (let x = 0, at = 2 * y * width; x < half; x += 1, at += 2, into += 1) {
      found[into] = values[at]! + values[at + 1]! + values[at + width]! + values[at + width + 1]!;
    }
  }
  return { width: half, height: rows, values: found };
}

/** Per tile of so many cells a side; a step that leaves the tile to the right or below still counts for it. */
function energies({ width, height, values }: Sums, side: number, columns: number, rows: number): Float64Array {
  const found = new Float64Array(columns * rows);
  for (let y = 0, last = Math.min(rows * side, height - 1); y < last; y += 1) {
    const row = Math.floor(y / side) * columns;
    for (let tile = 0; tile < columns; tile += 1) {
      const from = y * width + tile * side;
      let [here, below, sum] = [values[from]!, values[from + width]!, 0];
      for (let at = from + 1, end = y * width + Math.min((tile + 1) * side, width - 1); at <= end; at += 1) {
        const [right, across] = [values[at]!, values[at + width]!];
        sum += (right - here) * (across - below) + (below - here) * (across - right);
        [here, below] = [right, across];
      }
      found[row + tile]! += sum;
    }
  }
  return found;
}
