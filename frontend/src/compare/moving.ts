/** One photo moved over another by hand: by buttons and keys in steps, or by two fingers. Pure. */
import { after, layingOf, type Laying } from "../workers/align-warp";

export type HandMove = "left" | "right" | "up" | "down" | "turn_left" | "turn_right" | "larger" | "smaller";

/** A step: 1 % of the square's side, one degree, 1 % of size. */
const SHIFT = 2.56;
const TURN = Math.PI / 180;
const GROW = 1.01;

const STEPS: Readonly<Record<HandMove, Laying>> = {
  left: layingOf(1, 0, -SHIFT, 0), right: layingOf(1, 0, SHIFT, 0), up: layingOf(1, 0, 0, -SHIFT), down: layingOf(1, 0, 0, SHIFT),
  turn_left: layingOf(1, -TURN), turn_right: layingOf(1, TURN), larger: layingOf(GROW, 0), smaller: layingOf(1 / GROW, 0),
};

export const movedOnce = (laying: Laying, move: HandMove): Laying => after(laying, STEPS[move]);

/** Keys of a keyboard, as they lie under a hand. */
export const KEYS: Readonly<Record<string, HandMove>> = {
  ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down", "[": "turn_left", "]": "turn_right", "+": "larger", "=": "larger", "-": "smaller",
};

interface At {
  readonly x: number;
  readonly y: number;
}

/** Two fingers go from one pair of places to another (px of the square, from its middle): the photo goes with them. */
export function movedByFingers(laying: Laying, was: readonly [At, At], is: readonly [At, At]): Laying {
  const [ux, uy] = [was[1].x - was[0].x, was[1].y - was[0].y];
  const [vx, vy] = [is[1].x - is[0].x, is[1].y - is[0].y];
  const square = ux * ux + uy * uy;
  if (square < 1) return laying;
  const a = (ux * vx + uy * vy) / square;
  const b = (ux * vy - uy * vx) / square;
  const step: Laying = { a, b, x0: is[0].x - (a * was[0].x - b * was[0].y), y0: is[0].y - (b * was[0].x + a * was[0].y) };
  return after(laying, step);
}
