/**
 * Every shape of the look, drawn by us in a box of 24 (the sent marks 42 by 14, the brand 48). Here are those of the
 * first screen; the others come with the later words (see icons-later.ts).
 */
import type { Later } from "./icons-later";
import type { First, Goes, SentState, ShownMark } from "./types";

/** One stroke or surface: its path, what paints it, how wide, how dashed. `ink` is the text's own colour. */
export interface Stroke {
  readonly d: string;
  readonly fill?: Paint;
  readonly stroke?: Paint;
  readonly w?: number;
  readonly dash?: string;
}
export type Paint = "ink" | "ground" | "control" | "loupe" | "line" | "seen" | "find" | "stop" | "gap" | "na";
export type Drawing = readonly Stroke[];

/** A circle as a path, so that one loop draws all. */
export function round(x: number, y: number, r: number): string {
  return `M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0Z`;
}
export function line(d: string, w = 2.6): Stroke {
  return { d, stroke: "ink", w };
}
export function full(d: string): Stroke {
  return { d, fill: "ink" };
}
function square(x: number): string {
  return `M${x} 1h11v12h-11Z`;
}
function sent(filled: number, extra: Drawing = []): Drawing {
  const boxes = [1, 15.5, 30].map((x, index): Stroke => ({
    d: square(x), stroke: "ink", w: 1.8,
    ...(index < filled ? { fill: "ink" as const } : {}),
    ...(filled === 0 && index === 0 ? { dash: "3 2" } : {}),
  }));
  return [...boxes, ...extra];
}

const FIRST = {
  draft: sent(0),
  saved_here: sent(1),
  on_server: sent(2),
  in_shift_record: sent(3, [line("M10 7h22", 4)]),
  begin: [line("M2 12h7", 3), line(round(15, 12, 6), 2.8)],
  back: [line("m15.5 4-8 8 8 8", 3)],
  next: [line("m8.5 4 8 8-8 8", 3)],
  undo: [line("M8 4 3 9l5 5M3.5 9H15a5.5 5.5 0 0 1 0 11h-5", 2.8)],
  camera: [line("M2 7.5h4.5L8.5 4h7l2 3.5H22V20H2Z", 2.2), line(round(12, 13.3, 3.9), 2.2)],
  scan: [line("M2 8V2h6M16 2h6v6M22 16v6h-6M8 22H2v-6", 2.4), line("M7 7.5v9M10.3 7.5v9M14 7.5v9M17 7.5v9", 2)],
  keys: [line("M4 5h16a2.5 2.5 0 0 1 2.5 2.5v9A2.5 2.5 0 0 1 20 19H4a2.5 2.5 0 0 1-2.5-2.5v-9A2.5 2.5 0 0 1 4 5Z", 2.2), line("M5.5 9.5h1.8M9.3 9.5h1.8M13 9.5h1.8M16.7 9.5h1.8M7.5 14.5h9", 2.2)],
  tablet: [line("M4.5 4h15A2.5 2.5 0 0 1 22 6.5v11a2.5 2.5 0 0 1-2.5 2.5h-15A2.5 2.5 0 0 1 2 17.5v-11A2.5 2.5 0 0 1 4.5 4ZM18.5 10v4", 2.3)],
  brand: [
    { d: "M2 33h10c8 0 4-20 16-20h18", stroke: "line", w: 5 },
    { d: round(24, 22, 13.5), stroke: "line", w: 8.5 }, { d: round(24, 22, 13.5), stroke: "loupe", w: 4.2 },
  ],
} as const satisfies Record<string, Drawing>;

export type FirstIcon = keyof typeof FIRST;
export type IconName = FirstIcon | keyof Later;

const drawings: Partial<Record<IconName, Drawing>> = { ...FIRST };

/** Adds the shapes of the later screens. */
export function addDrawings(more: Later): void {
  Object.assign(drawings, more);
}

/** The strokes of a shape; none before its file has come. */
export function drawing(name: IconName): Drawing {
  return drawings[name] ?? [];
}

/** Whether a shape is among those of the first screen. */
export function isFirstIcon(name: string): name is FirstIcon {
  return Object.hasOwn(FIRST, name);
}

/** Width and height of the box a shape is drawn in. */
export function boxOf(name: IconName): readonly [number, number] {
  if (name === "brand") return [48, 48];
  return name === "draft" || name === "saved_here" || name === "on_server" || name === "in_shift_record" ? [42, 14] : [24, 24];
}

const PAINTS: Readonly<Record<Paint, string>> = {
  ink: "currentColor", line: "var(--ink)", ground: "var(--icon-ground, var(--read))", control: "var(--control)", loupe: "var(--loupe)",
  seen: "var(--seen)", find: "var(--find)", stop: "var(--stop)", gap: "var(--gap)", na: "var(--na)",
};

export function paint(name: Paint | undefined): string {
  return name === undefined ? "none" : PAINTS[name];
}

/** The shape of a mark, a sent state or an answer is its own name; these say so to the compiler. */
export const markIcon = (mark: ShownMark): IconName => mark;
export const sentIcon = (state: SentState): IconName => state;
export const firstIcon = (first: First): IconName => `first_${first}`;
export const goesIcon = (goes: Goes): IconName => `goes_${goes}`;
