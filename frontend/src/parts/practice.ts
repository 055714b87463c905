import type { Component } from "svelte";

/** Set where this window practises, for the frame of every screen: the sign, and the way out on it. */
export interface PracticeFrame {
  readonly Sign: Component<{ onpress: () => void }>;
  readonly leave: () => void;
}
let now: PracticeFrame | undefined;

/** Told before any screen stands, and never again. */
export function frameOfPractice(frame: PracticeFrame): void {
  now = frame;
}
export function practiceFrame(): PracticeFrame | undefined {
  return now;
}
