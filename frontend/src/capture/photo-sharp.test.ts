// capability: photos
import { describe, expect, test } from "vitest";
import type { Seen } from "../workers/shrink-messages";
import { FOG, SharpWatch } from "./photo-sharp";

/** A frame of a good camera, with what is different in this one. */
const frame = (over: Partial<Seen> = {}): Seen => ({ sharpness: 400, crisp: 600, mean: 120, white: 0, glare: 0, low: 20, high: 220, moved: 0, ...over });
/** A camera that has shown this much before. */
const shown = (best: number, veil = 90): SharpWatch => new SharpWatch({ note: () => undefined, best: () => best, veil: () => veil });

test("a picture with the detail this camera has shown is sharp, one without is not, whatever is seen", () => {
  const watch = shown(600);
  expect(watch.tell(frame(), 0)).toBe("sharp");
  expect(watch.tell(frame({ crisp: 399 }), 0)).toBe("not_sharp");
  expect(watch.tell(frame({ crisp: 400 }), 0)).toBe("sharp");
});

test("a camera that never shows more than little detail is held against itself", () => {
  const watch = shown(330);
  expect(watch.tell(frame({ crisp: 325 }), 0)).toBe("sharp");
  expect(watch.tell(frame({ crisp: 280 }), 0)).toBe("not_sharp");
});

test("a moment ago counts, and no longer than that", () => {
  const watch = new SharpWatch();
  expect(watch.tell(frame({ crisp: 320 }), 0)).toBe("sharp");
  watch.note(frame(), 0);
  expect(watch.tell(frame({ crisp: 320 }), 2_999)).toBe("not_sharp");
  expect(watch.tell(frame({ crisp: 320 }), 3_001)).toBe("sharp");
});

test("where there are no edges nothing is said of sharpness", () => {
  expect(shown(600).share(frame({ crisp: 0 }), 0)).toBeNull();
  expect(shown(600).against(frame({ crisp: 0 }), 0)).toEqual([]);
});

test.each([
  ["the dark, and nothing else of it", frame({ mean: 29, crisp: 300 }), ["too_dark"]],
  ["too much light", frame({ mean: 220 }), ["washed_out"]],
  ["glare over a part", frame({ glare: 30 }), ["glare"]],
  ["glare over much of it", frame({ glare: 500 }), ["washed_out"]],
  ["a hand that moved", frame({ crisp: 300, moved: 6 }), ["moved", "not_sharp"]],
  ["the focus, where nothing moved", frame({ crisp: 300, moved: 1 }), ["not_sharp"]],
  ["nothing, where it moved and is sharp", frame({ moved: 6 }), []],
  ["glare before the focus", frame({ glare: 30, crisp: 300 }), ["glare", "not_sharp"]],
])("against a picture is said: %s", (_, picture, told) => {
  expect(shown(600).against(picture, 0)).toEqual(told);
});

test("a spot is told only after the picture moved, and before what is not sharp", () => {
  const shows = new Uint8Array(300).fill(2);
  for (const tile of [105, 106, 125, 126]) shows[tile] = 1;
  const tiles = { columns: 20, shows };
  for (const [moved, told] of [[1, []], [4, ["soft_spot"]]] as const) {
    const watch = shown(600);
    for (let at = 0; at < 6_000; at += 200) watch.note(frame({ moved, tiles }), at);
    expect(watch.against(frame(), 6_000)).toEqual(told);
  }
});

describe("a fogged lens", () => {
  const veiled = frame({ low: 110, high: 200 });
  const after = (watch: SharpWatch, ms: number, moved = 0): boolean => {
    for (let at = 0; at <= ms; at += 200) watch.note({ ...veiled, moved }, at);
    return watch.against(veiled, ms).includes("fogged");
  };

  test("is told after a while without motion", () => {
    expect(after(shown(600), 1_000)).toBe(false);
    expect(after(shown(600), FOG.ms + 200)).toBe(true);
  });

  test("is not told while the picture moves, or of a camera that has shown little yet", () => {
    expect(after(shown(600), 3_000, 5)).toBe(false);
    expect(after(shown(0), 3_000)).toBe(false);
  });

  test("is not told where the camera usually sees as little contrast: a smooth white tube fills it", () => {
    expect(after(shown(600, 400), 3_000)).toBe(false);
    expect(after(shown(600, 349), 3_000)).toBe(true);
  });

  test("is not told again once the picture was clear", () => {
    const watch = shown(600);
    expect(after(watch, 2_000)).toBe(true);
    watch.note(frame(), 2_200);
    watch.note(veiled, 2_400);
    expect(watch.against(veiled, 2_400)).not.toContain("fogged");
  });
});
