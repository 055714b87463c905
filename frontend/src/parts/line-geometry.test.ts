import { describe, expect, test } from "vitest";
import { brackets, dash, fullSize, inked, layLine, pins, runs, thinSize, widthOf, type Layout } from "./line-geometry";
import { countMarks, markOf, MARKS, totalOf } from "./marks";
import type { LinePart, MarksById, ShownMark } from "./types";

const SHAPES = ["tip", "tip", "band", "bending", "band", "tube", "tube", "boot", "body", "knob", "ring", "switches",
  "cylinder", "port", "boot", "cord", "plug", "plug", "vent"];

/** A made-up route of `count` parts that ends with detached valves. */
function route(count: number): LinePart[] {
  return Array.from({ length: count }, (_, index) => ({
    id: `p${index}`, name: `Part ${index}`,
    shape: index === count - 1 ? "valves" : (SHAPES[Math.floor((index * SHAPES.length) / count)] ?? "tube"),
    zone: `z${Math.floor(index / 4)}`,
  }));
}

/** A part's own cell: pitch wide, row pitch high. */
function cells(layout: Layout) {
  return layout.spots.map((spot) => ({
    left: spot.x - layout.pitch / 2, right: spot.x + layout.pitch / 2,
    top: spot.y - layout.top, bottom: spot.y - layout.top + layout.rowPitch,
  }));
}

const WIDTHS = [1920, 1280, 1180, 1024, 820, 768, 600];
const COUNTS = [1, 2, 5, 20, 25, 28, 29, 40];

describe("the full line", () => {
  test("keeps the rows of the look: 14 and 14, 10 and 10 and 8, half where that is fewer", () => {
    expect([fullSize(28, 1180).perRow, layLine(28, fullSize(28, 1180)).rows]).toEqual([14, 2]);
    expect([fullSize(28, 820).perRow, layLine(28, fullSize(28, 820)).rows]).toEqual([10, 3]);
    expect(fullSize(25, 1180).perRow).toBe(13);
    expect(fullSize(29, 1180).perRow).toBe(15);
    expect([fullSize(20, 820).perRow, layLine(20, fullSize(20, 820)).rows]).toEqual([10, 2]);
    expect(fullSize(28, 1180).pitch).toBeGreaterThanOrEqual(76);
    expect(fullSize(28, 820).pitch).toBeGreaterThanOrEqual(73);
  });

  test.each(WIDTHS)("gives every part a cell of its own in %i px, and none hangs over the edge", (width) => {
    for (const count of COUNTS) {
      const layout = layLine(count, fullSize(count, width));
      const boxes = cells(layout);
      expect(boxes).toHaveLength(count);
      expect(layout.width).toBeLessThanOrEqual(width + 0.001);
      expect(layout.pitch).toBeGreaterThanOrEqual(64);
      boxes.forEach((a, i) => {
        expect(a.left).toBeGreaterThanOrEqual(0);
        expect(a.right).toBeLessThanOrEqual(layout.width);
        expect(a.bottom).toBeLessThanOrEqual(layout.height);
        for (const b of boxes.slice(i + 1)) {
          const apart = a.right <= b.left + 0.01 || b.right <= a.left + 0.01 || a.bottom <= b.top + 0.01 || b.bottom <= a.top + 0.01;
          expect(apart, `${count} parts in ${width}`).toBe(true);
        }
      });
    }
  });

  test("runs to and fro: a turn is half a circle of half the row pitch", () => {
    const layout = layLine(28, fullSize(28, 820));
    const [end, start] = [layout.spots[9], layout.spots[10]];
    expect(start?.x).toBe(end?.x);
    expect(start?.direction).toBe(-1);
    expect((start?.s ?? 0) - (end?.s ?? 0)).toBeCloseTo(36 + Math.PI * 46, 6);
    expect(layout.path.match(/A46 46/g)).toHaveLength(2);
  });
});

test("the outlines cover the line without a hole, from the tip's end to the last attached part", () => {
  for (const count of [20, 25, 28, 29]) {
    for (const width of [1180, 820]) {
      const parts = route(count);
      const layout = layLine(count, fullSize(count, width));
      const pieces = [...runs(parts, layout)].sort((a, b) => a.from - b.from);
      expect(pieces[0]?.from).toBe(0);
      pieces.slice(1).forEach((piece, index) => expect(piece.from).toBeCloseTo(pieces[index]?.to ?? -1, 6));
      expect(pieces.at(-1)?.to).toBeCloseTo((layout.spots[count - 2]?.s ?? 0) + layout.pitch / 2, 6);
    }
  }
});

test("only parts looked at are inked, each its half of the way, and all together ink the whole line", () => {
  const parts = route(28);
  const layout = layLine(28, fullSize(28, 820));
  const every: ShownMark[] = ["nothing_found", "finding", "out_of_use"];
  const all: MarksById = Object.fromEntries(parts.map((part, i) => [part.id, every[i % 3]]));
  const inkLength = inked(parts, all, layout).reduce((sum, span) => sum + span.to - span.from, 0);
  const lineLength = runs(parts, layout).reduce((sum, run) => sum + run.to - run.from, 0);
  expect(inkLength).toBeCloseTo(lineLength, 4);
  for (const mark of ["could_not_look", "not_due", "none_here", "not_looked"] as const) {
    expect(inked(parts, { p3: mark }, layout)).toEqual([]);
  }
  const one = inked(parts, { p3: "nothing_found" }, layout);
  expect(one).toHaveLength(1);
  expect((one[0]?.to ?? 0) - (one[0]?.from ?? 0)).toBeCloseTo(layout.pitch, 6);
  expect(inked(parts, { p27: "nothing_found" }, layout), "valves stand apart").toEqual([]);
});

test("a zone that turns the corner has a bracket in each row, round its own parts only", () => {
  const parts = route(28);
  const layout = layLine(28, fullSize(28, 820));
  const found = brackets(parts, "z2", layout); // parts 8 to 11: two before and two after the turn
  expect(found.map((bracket) => bracket.row)).toEqual([0, 1]);
  const inside = (index: number) => found.some((b) => {
    const spot = layout.spots[index];
    return spot !== undefined && spot.row === b.row && spot.x > b.x1 && spot.x < b.x2;
  });
  expect(parts.map((_, i) => i).filter(inside)).toEqual([8, 9, 10, 11]);
  expect(brackets(parts, undefined, layout)).toEqual([]);
});

test("pins stick out of the last plug in the direction of its row, and a line without plug has none", () => {
  const parts = route(28);
  const layout = layLine(28, fullSize(28, 1180));
  expect(pins(parts, layout)).toMatchObject({ direction: -1, y: 126 });
  expect(pins([{ id: "a", name: "A", shape: "channel" }], layLine(1, thinSize(1, 400)))).toBeNull();
});

test("the thin form is one row with 15 to 26 px between parts, and fits a phone", () => {
  const phone = layLine(29, thinSize(29, 358));
  expect([phone.rows, phone.width <= 358]).toEqual([1, true]);
  // 39 parts and channels of the longest kind, in a list at 320 px (1280 px at 400 %, WCAG 2.2 1.4.10).
  expect(layLine(39, thinSize(39, 254)).width).toBeLessThanOrEqual(254);
  for (const [count, width] of [[28, 449], [20, 900]] as const) {
    const layout = layLine(count, thinSize(count, width));
    expect(layout.rows).toBe(1);
    expect(layout.pitch).toBeGreaterThanOrEqual(15);
    expect(layout.pitch).toBeLessThanOrEqual(26);
  }
});

test("an unknown shape is drawn as a piece of tube", () => {
  expect(widthOf("something new")).toBe(widthOf("tube"));
  expect(widthOf("toString")).toBe(widthOf("tube"));
});

test("a dash array starts with nothing, skips to the stretch and paints no second one", () => {
  const layout = layLine(28, fullSize(28, 1180));
  const [none, skip, paint, rest] = dash(76, 152, layout).split(" ").map(Number);
  expect([none, skip, paint]).toEqual([0, 76, 76]);
  expect((rest ?? 0)).toBeGreaterThan(layout.length);
});

describe("the six marks", () => {
  test("add up to the parts, out of use within findings, a part without a mark as not looked", () => {
    const parts = route(28);
    const shown: (ShownMark | undefined)[] = [...MARKS, "out_of_use", undefined];
    const marks: MarksById = Object.fromEntries(parts.map((part, i) => [part.id, shown[i % shown.length]]));
    const counts = countMarks(parts, marks);
    expect(totalOf(counts)).toBe(28);
    expect(counts.finding).toBe(parts.filter((part) => ["finding", "out_of_use"].includes(marks[part.id] ?? "")).length);
    expect(markOf(undefined)).toBe("not_looked");
  });
});
