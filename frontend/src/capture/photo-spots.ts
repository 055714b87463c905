/**
 * A drop on the lens: a spot that stays soft whatever passes it, while all round it detail was seen.
 *
 * Only sharp frames in which the picture moves say anything: then each tile sees many things. Measured with drops drawn as
 * blurred discs over photographs that move: tests/vectors/test_drops.py.
 */
import { DETAIL, NOTHING, type Tiles } from "../workers/tiles";

/** Frames in which a tile had something to tell by, from which it is judged. */
const ENOUGH = 8;
/** Frames after which the older half counts half: what was wiped is soon seen to be so. */
const MOST = 60;
/** A tile is soft where detail showed in fewer of its frames than this share, and clear from that one on. */
const SOFT_BELOW = 0.1;
const CLEAR_FROM = 0.5;
/** Tiles of a spot at least; the largest share of the picture that is one; of what is judged, how much must be clear. */
const LEAST_TILES = 2;
const LARGEST = 0.25;
const CLEAR_ROUND = 0.7;
const CLEAR_WHOLE = 0.6;
const JUDGED = 1 / 3;
/** A camera that was not looked at for so long may have been wiped meanwhile. */
export const FORGOTTEN_MS = 120_000;

export class Spots {
  #columns = 0;
  #seen = new Uint16Array(0);
  #detail = new Uint16Array(0);
  #last = -Infinity;
  /** Whether one is there now. */
  found = false;

  /** A frame in which the picture moved. `at` in milliseconds of any clock that goes on. */
  note({ columns, shows }: Tiles, at: number): void {
    if (columns !== this.#columns || shows.length !== this.#seen.length || at - this.#last > FORGOTTEN_MS) {
      [this.#columns, this.#seen, this.#detail] = [columns, new Uint16Array(shows.length), new Uint16Array(shows.length)];
    }
    this.#last = at;
    shows.forEach((shown, tile) => {
      if (shown === NOTHING) return;
      this.#seen[tile]! += 1;
      if (shown === DETAIL) this.#detail[tile]! += 1;
      if (this.#seen[tile]! < MOST) return;
      this.#seen[tile]! >>= 1;
      this.#detail[tile]! >>= 1;
    });
    this.found = this.#look();
  }

  #look(): boolean {
    const size = this.#seen.length;
    const share = Array.from(this.#seen, (seen, tile) => (seen < ENOUGH ? undefined : this.#detail[tile]! / seen));
    const judged = share.filter((each) => each !== undefined);
    const clear = judged.filter((each) => each >= CLEAR_FROM).length;
    if (judged.length < JUDGED * size || clear < CLEAR_WHOLE * judged.length) return false;
    return this.#spots(share).some((spot) => spot.size >= LEAST_TILES && spot.size <= LARGEST * size && this.#clearRound(spot, share));
  }

  /** Soft tiles that touch side by side, together. */
  #spots(share: readonly (number | undefined)[]): ReadonlySet<number>[] {
    const soft = new Set(share.flatMap((each, tile) => (each !== undefined && each < SOFT_BELOW ? [tile] : [])));
    const found: Set<number>[] = [];
    for (const first of soft) {
      const spot = new Set<number>();
      const open = [first];
      for (let tile = open.pop(); tile !== undefined; tile = open.pop()) {
        if (!soft.delete(tile)) continue;
        spot.add(tile);
        open.push(...this.#near(tile, 1).filter((other) => this.#beside(tile, other)));
      }
      if (spot.size > 0) found.push(spot);
    }
    return found;
  }

  /** What lies two tiles from the spot: one tile at its rim is neither soft nor clear. */
  #clearRound(spot: ReadonlySet<number>, share: readonly (number | undefined)[]): boolean {
    const rim = new Set([...spot].flatMap((tile) => this.#near(tile, 1)));
    const round = new Set([...spot].flatMap((tile) => this.#near(tile, 2)).filter((tile) => !rim.has(tile) && share[tile] !== undefined));
    const clear = [...round].filter((tile) => share[tile]! >= CLEAR_FROM).length;
    return round.size > 0 && clear >= CLEAR_ROUND * round.size;
  }

  /** The tiles up to so many columns and rows away, itself among them. */
  #near(tile: number, far: number): number[] {
    const [column, row, rows] = [tile % this.#columns, Math.floor(tile / this.#columns), this.#seen.length / this.#columns];
    const found: number[] = [];
    for (let y = Math.max(0, row - far); y <= Math.min(rows - 1, row + far); y += 1) {
      for (let x = Math.max(0, column - far); x <= Math.min(this.#columns - 1, column + far); x += 1) found.push(y * this.#columns + x);
    }
    return found;
  }

  #beside(one: number, other: number): boolean {
    return Math.abs(one - other) === this.#columns || Math.floor(one / this.#columns) === Math.floor(other / this.#columns);
  }
}

const known = new Map<string, Spots>();

/** What one camera has shown with one tool since this page was opened: the next photo goes on where the last left off. */
export function spotsOf(camera: string, tool: string): Spots {
  const key = JSON.stringify([camera, tool]);
  const spots = known.get(key) ?? new Spots();
  known.set(key, spots);
  return spots;
}
