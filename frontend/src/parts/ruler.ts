/** How the ruler is drawn and how a place moves along it. Whole cm. */

/** A mark of the ruler: every 5 cm a short one, every 10 a long one, every 20 with its number. */
export interface Tick {
  readonly cm: number;
  readonly x: number;
  readonly long: boolean;
  readonly numbered: boolean;
}

/** The marks of a ruler of `max` cm over `width` px. A short ruler (under 60 cm) numbers every 10. */
export function ticks(max: number, width: number): readonly Tick[] {
  const every = max < 60 ? 10 : 20;
  return Array.from({ length: Math.floor(max / 5) + 1 }, (_, index) => {
    const cm = index * 5;
    return { cm, x: (cm / max) * width, long: cm % 10 === 0, numbered: cm % every === 0 };
  });
}

/** The place moved by `by` cm, kept on the scope; from no place it starts at the end measured from. */
export function movedPlace(cm: number | null, by: number, max: number): number {
  return Math.min(max, Math.max(0, (cm ?? 0) + by));
}
