// capability: photos
import { afterEach, expect, test, vi } from "vitest";
import { inSight, SEEN_FROM } from "./in-sight";

/** What the browser says of the share in view, as W3C Intersection Observer names it. */
type Seen = Pick<IntersectionObserverEntry, "isIntersecting" | "intersectionRatio">;

afterEach(() => vi.unstubAllGlobals());

function watched(): { readonly say: (...ratios: number[]) => void; readonly told: boolean[]; readonly end: () => void; readonly threshold: unknown } {
  const told: boolean[] = [];
  let answer: (seen: readonly Seen[]) => void = () => undefined;
  let threshold: unknown;
  vi.stubGlobal("IntersectionObserver", class {
    constructor(given: typeof answer, options: { readonly threshold: number }) {
      [answer, threshold] = [given, options.threshold];
    }
    observe(): void { /* the test says what is seen */ }
    disconnect(): void { answer = () => undefined; }
  });
  const held = inSight({} as HTMLElement, (seen) => told.push(seen));
  const say = (...ratios: number[]): void => answer(ratios.map((intersectionRatio) => ({ isIntersecting: intersectionRatio > 0, intersectionRatio })));
  return { say, told, end: () => (held as { destroy: () => void }).destroy(), threshold };
}

test("a strip of it at the edge of the screen is not in sight, most of it is, and gone again it is not", () => {
  const { say, told, end, threshold } = watched();
  expect(threshold).toBe(SEEN_FROM);
  say(0.1);
  say(SEEN_FROM);
  say(1, 0.2);
  expect(told).toEqual([false, true, false]);
  say(1);
  end();
  expect(told.slice(3), "taken off the screen").toEqual([true, false]);
});
