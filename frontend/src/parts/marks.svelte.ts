/** A ring, an arrow or a length while it is being laid over a photo: shared by the photo and the buttons beside it. */
import { aimOf, laidOf, movedBy, pointsOf, START, withPoint, type Drawn, type MarkTool, type Point } from "./marking";
import { moveRing, type RingMove } from "./ring";
import type { Laid, Spot } from "./types";

/** Big steps in ten-thousandths of the photo; a small one is a pixel of the screen. */
const FAR = 200;

export class Marking {
  tool = $state<MarkTool>("ring");
  chosen = $state<Point>("center");
  fine = $state(true);
  /** Pixels of the photo, and of the field it is shown in. */
  size = $state.raw<{ readonly width: number; readonly height: number } | null>(null);
  shown = $state({ width: 0, height: 0 });

  constructor(private readonly read: () => Drawn, private readonly write: (drawn: Drawn) => void) {}

  get drawn(): Drawn {
    return this.read();
  }
  get points(): ReturnType<typeof pointsOf> {
    return pointsOf(this.tool, this.drawn);
  }
  get current(): { readonly id: Point; readonly spot: Spot | undefined } | undefined {
    return this.points.find(({ id }) => id === this.chosen) ?? this.points[0];
  }
  get laid(): Laid | undefined {
    return this.size === null ? undefined : laidOf(this.drawn, this.size);
  }

  change(drawn: Drawn): void {
    this.write(drawn);
  }
  put(spot: Spot): void {
    const { current } = this;
    if (current !== undefined) this.write(withPoint(this.drawn, this.tool, current.id, spot, aimOf(this.size?.width ?? 1, this.shown.width)));
  }
  /** A tap puts the point and goes on to the next that is not there yet. */
  place(spot: Spot): void {
    const next = this.points.find(({ id, spot: there }) => id !== this.current?.id && there === undefined);
    this.put(spot);
    if (next !== undefined) this.chosen = next.id;
  }
  move(right: number, down: number, far = !this.fine): void {
    const by = far ? FAR : Math.max(1, Math.round(10000 / Math.max(1, right !== 0 ? this.shown.width : this.shown.height)));
    this.put(movedBy(this.current?.spot ?? { x: 5000, y: 5000 }, right * by, down * by));
  }
  sized(to: RingMove): void {
    this.write({ ...this.drawn, ring: moveRing(this.drawn.ring ?? START, to) });
  }
  choose(tool: MarkTool): void {
    this.tool = tool;
    const points = pointsOf(tool, this.drawn);
    this.chosen = (points.find(({ spot }) => spot === undefined) ?? points[0])?.id ?? "center";
  }
}
