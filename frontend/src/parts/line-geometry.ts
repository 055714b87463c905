/**
 * Where everything of the scope line lies. Pure: parts and a width go in, numbers come out.
 * Units are CSS px of an unscaled drawing; `s` is the way along the line from the tip's end.
 * Measures are those of the look: rows 92 apart, cells of the pitch by 92, tube widths by shape.
 */
import type { LinePart, MarksById, PartShape } from "./types";

/** How wide the line is drawn at a shape. Valves stand apart and are not drawn as tube. */
const WIDTH: Readonly<Record<PartShape, number>> = {
  tip: 18, elevator: 18, recess: 18, cap: 20, face: 22, groove: 18, band: 17, bending: 15, tube: 14, boot: 18,
  body: 30, handle: 30, ring: 30, knob: 30, lever: 30, switches: 30, cylinder: 30, eyepiece: 30,
  port: 24, post: 24, cord: 11, plug: 24, vent: 24, valves: 0, channel: 8,
};

/** The width of a shape; an unknown one is drawn as a piece of tube. */
export function widthOf(shape: string): number {
  return Object.hasOwn(WIDTH, shape) ? WIDTH[shape as PartShape] : WIDTH.tube;
}

export interface LineSize {
  /** Parts in a full row. */
  readonly perRow: number;
  /** Distance between neighbours and width of a cell. */
  readonly pitch: number;
  /** Distance between rows and height of a cell. */
  readonly rowPitch: number;
  /** From the drawing's edge to the first centre. */
  readonly margin: number;
  /** From the first centre back to the start of the line. */
  readonly lead: number;
  /** From the drawing's top to the first row's axis. */
  readonly top: number;
  /** Factor for tube widths and what hangs on them. */
  readonly scale: number;
}

export interface Spot {
  readonly row: number;
  readonly column: number;
  /** +1 where the row runs away from the reading start, -1 where it runs back. */
  readonly direction: 1 | -1;
  readonly x: number;
  readonly y: number;
  readonly s: number;
}

export interface Layout extends LineSize {
  readonly rows: number;
  readonly width: number;
  readonly height: number;
  readonly spots: readonly Spot[];
  /** One path from the tip's end to the last centre. */
  readonly path: string;
  readonly length: number;
}

/** A stretch of the line from `from` to `to`, `width` thick. */
export interface Span {
  readonly from: number;
  readonly to: number;
  readonly width: number;
}

/** A stretch of outline; an end is `closed` where a thinner stretch, or nothing, follows. */
export interface Run extends Span {
  readonly closedStart: boolean;
  readonly closedEnd: boolean;
}

export interface Bracket {
  readonly row: number;
  readonly x1: number;
  readonly x2: number;
  readonly y1: number;
  readonly y2: number;
}

/** Holds a turn: 18 px of straight line, half the row pitch, half the widest tube of a turn. */
const MARGIN = 80;
/** The same for the bare form, whose rows are nearer. */
const BARE_MARGIN = 56;
const TURN_LEAD = 18;
const TURN_WIDTH = 14;
const FLOOR_PITCH = 66;
const WIDEST_PITCH = 104;
const THIN_SCALE = 0.62;

/**
 * The size of the full line in `width` px: rows of 14 or so on a wide screen, at most 10 on a narrow one,
 * or half the parts where that is fewer. No cell is narrower than 66 px.
 */
export function fullSize(count: number, width: number): LineSize {
  const room = Math.max(0, width - 2 * MARGIN);
  const fits = Math.min(width >= 1000 ? 15 : 10, Math.floor(room / FLOOR_PITCH) + 1);
  const perRow = Math.max(1, Math.min(fits, Math.ceil(count / 2)));
  const pitch = perRow === 1 ? WIDEST_PITCH : Math.min(WIDEST_PITCH, room / (perRow - 1));
  return { perRow, pitch, rowPitch: 92, margin: MARGIN, lead: 20, top: 34, scale: 1 };
}

/** The size of the bare form, marks without names: two rows as close as marks allow, for where the line is read and not tapped. */
export function bareSize(count: number, width: number): LineSize {
  const perRow = Math.max(1, Math.ceil(count / 2));
  const pitch = perRow === 1 ? 51 : Math.min(51, Math.max(20, (width - 2 * BARE_MARGIN) / (perRow - 1)));
  return { perRow, pitch, rowPitch: 54, margin: BARE_MARGIN, lead: 20, top: 26, scale: 1 };
}

/** The size of the thin form: one row, no names, 15 to 26 px between parts, closer only where a phone is too narrow. */
export function thinSize(count: number, width: number): LineSize {
  const pitch = Math.min(26, Math.max(5, (width - 16) / Math.max(1, count)));
  return { perRow: Math.max(1, count), pitch, rowPitch: 44, margin: 4 + pitch / 2, lead: pitch / 2, top: 24, scale: THIN_SCALE };
}

/** Lays `count` parts in rows that run to and fro. */
export function layLine(count: number, size: LineSize): Layout {
  const { perRow, pitch, rowPitch, margin, lead, top } = size;
  const rows = Math.max(1, Math.ceil(count / perRow));
  const radius = rowPitch / 2;
  const turn = 2 * TURN_LEAD + Math.PI * radius;
  const edge = margin + (perRow - 1) * pitch;
  const rowLength = (perRow - 1) * pitch;
  const spots = Array.from({ length: count }, (_, index): Spot => {
    const row = Math.floor(index / perRow);
    const column = index % perRow;
    const direction = row % 2 === 0 ? 1 : -1;
    const x = direction === 1 ? margin + column * pitch : edge - column * pitch;
    return { row, column, direction, x, y: top + row * rowPitch, s: lead + row * (rowLength + turn) + column * pitch };
  });
  return {
    ...size, rows, spots,
    width: edge + margin,
    height: rows * rowPitch,
    path: pathOf(spots, size, rows, edge),
    length: spots.at(-1)?.s ?? 0,
  };
}

function pathOf(spots: readonly Spot[], size: LineSize, rows: number, edge: number): string {
  const radius = size.rowPitch / 2;
  let path = `M${fixed(size.margin - size.lead)} ${size.top}`;
  for (let row = 0; row < rows - 1; row += 1) {
    const forward = row % 2 === 0;
    const x = fixed(forward ? edge + TURN_LEAD : size.margin - TURN_LEAD);
    path += `H${x}A${radius} ${radius} 0 0 ${forward ? 1 : 0} ${x} ${size.top + (row + 1) * size.rowPitch}`;
  }
  const last = spots.at(-1);
  return last === undefined ? path : `${path}H${fixed(last.x + last.direction * size.pitch)}`;
}

function fixed(value: number): string {
  return String(Math.round(value * 10) / 10);
}

/** The parts that are drawn as tube: all but valves and caps, which stand apart after the pins. */
function attached(parts: readonly LinePart[]): number {
  const first = parts.findIndex((part) => part.shape === "valves");
  return first === -1 ? parts.length : first;
}

/** Where part `index` begins and ends along the line, and the halves of a turn it owns. */
function reach(index: number, count: number, layout: Layout): { from: number; to: number; before: number; after: number } {
  const spot = layout.spots[index];
  if (spot === undefined) return { from: 0, to: 0, before: 0, after: 0 };
  const half = layout.pitch / 2;
  const startsRow = spot.column === 0 && spot.row > 0;
  const endsRow = spot.column === layout.perRow - 1 && index < count - 1;
  const from = index === 0 ? 0 : spot.s - (startsRow ? TURN_LEAD : half);
  const to = spot.s + (endsRow ? TURN_LEAD : half);
  const arc = (Math.PI * layout.rowPitch) / 4;
  return { from, to, before: startsRow ? arc : 0, after: endsRow ? arc : 0 };
}

/** The outlines, thinnest first, so that a thicker one is painted over the end of a thinner one. */
export function runs(parts: readonly LinePart[], layout: Layout): readonly Run[] {
  const count = attached(parts);
  const pieces: Span[] = [];
  parts.slice(0, count).forEach((part, index) => {
    const own = reach(index, count, layout);
    const width = widthOf(part.shape);
    pieces.push({ from: own.from, to: own.to, width });
    const next = parts[index + 1];
    if (own.after > 0 && next !== undefined) {
      pieces.push({ from: own.to, to: own.to + 2 * own.after, width: Math.min(TURN_WIDTH, width, widthOf(next.shape)) });
    }
  });
  const merged: Span[] = [];
  for (const piece of pieces) {
    const last = merged.at(-1);
    if (last !== undefined && last.width === piece.width) merged[merged.length - 1] = { ...last, to: piece.to };
    else merged.push(piece);
  }
  return merged
    .map((run, index) => ({
      from: run.from, to: run.to, width: run.width * layout.scale,
      closedStart: (merged[index - 1]?.width ?? 0) < run.width,
      closedEnd: (merged[index + 1]?.width ?? 0) < run.width,
    }))
    .sort((a, b) => a.width - b.width);
}

/** The inked stretches: a part looked at inks its half of the way to each neighbour. */
export function inked(parts: readonly LinePart[], marks: MarksById, layout: Layout): readonly (Span & { id: string })[] {
  const count = attached(parts);
  const spans: (Span & { id: string })[] = [];
  parts.slice(0, count).forEach((part, index) => {
    if (!isInked(marks[part.id])) return;
    const own = reach(index, count, layout);
    const width = widthOf(part.shape);
    spans.push({ id: part.id, from: own.from, to: own.to, width: innerWidth(width, layout.scale) });
    const before = parts[index - 1];
    const after = parts[index + 1];
    if (own.before > 0 && before !== undefined) {
      const turn = Math.min(TURN_WIDTH, width, widthOf(before.shape));
      spans.push({ id: part.id, from: own.from - own.before, to: own.from, width: innerWidth(turn, layout.scale) });
    }
    if (own.after > 0 && after !== undefined) {
      const turn = Math.min(TURN_WIDTH, width, widthOf(after.shape));
      spans.push({ id: part.id, from: own.to, to: own.to + own.after, width: innerWidth(turn, layout.scale) });
    }
  });
  return spans;
}

function innerWidth(width: number, scale: number): number {
  return width * scale - 3.4 * Math.max(scale, 0.7);
}

/** Whether a part is looked at and so inked: nothing found, or a finding. */
export function isInked(mark: MarksById[string]): boolean {
  return mark === "nothing_found" || mark === "finding" || mark === "out_of_use";
}

/** Square brackets round the neighbouring parts of `zone`; a zone that turns the corner has one in each row. */
export function brackets(parts: readonly LinePart[], zone: string | undefined, layout: Layout): readonly Bracket[] {
  if (zone === undefined) return [];
  const rows = new Map<number, number[]>();
  layout.spots.forEach((spot, index) => {
    if (parts[index]?.zone !== zone) return;
    rows.set(spot.row, [...(rows.get(spot.row) ?? []), spot.x]);
  });
  const half = layout.pitch / 2 - 1;
  return [...rows].map(([row, xs]) => {
    const y = layout.top + row * layout.rowPitch;
    return { row, x1: Math.min(...xs) - half, x2: Math.max(...xs) + half, y1: y - 31, y2: y + 56 };
  });
}

/** Where the contact pins stick out: the end of the last attached plug or vent. A scope without a plug has none. */
export function pins(parts: readonly LinePart[], layout: Layout): { x: number; y: number; direction: 1 | -1 } | null {
  const index = attached(parts) - 1;
  const shape = parts[index]?.shape;
  const spot = layout.spots[index];
  const plugged = parts.some((part) => part.shape === "plug");
  if (spot === undefined || !plugged || (shape !== "plug" && shape !== "vent")) return null;
  return { x: spot.x + spot.direction * (layout.pitch / 2), y: spot.y, direction: spot.direction };
}

/** `stroke-dasharray` that paints only `from`..`to` of the line's path. */
export function dash(from: number, to: number, layout: Layout): string {
  const start = Math.max(0, from);
  return `0 ${fixed(start)} ${fixed(Math.max(0, to - start))} ${fixed(layout.length + layout.pitch * 4 + 99)}`;
}
