import type { Ring } from "./types";

export type RingMove = "left" | "right" | "up" | "down" | "larger" | "smaller";

const STEP = 400;
const GROW = 200;
const SMALLEST = 200;

function within(value: number): number {
  return Math.min(10000, Math.max(0, Math.round(value)));
}

/** The ring one step further; whole numbers that stay on the photo (x, y in 0..10000, r in 200..5000). */
export function moveRing(ring: Ring, move: RingMove): Ring {
  const sized = (r: number): number => Math.min(5000, Math.max(SMALLEST, Math.round(r)));
  switch (move) {
    case "left": return { ...ring, x: within(ring.x - STEP) };
    case "right": return { ...ring, x: within(ring.x + STEP) };
    case "up": return { ...ring, y: within(ring.y - STEP) };
    case "down": return { ...ring, y: within(ring.y + STEP) };
    case "larger": return { ...ring, r: sized(ring.r + GROW) };
    case "smaller": return { ...ring, r: sized(ring.r - GROW) };
  }
}
