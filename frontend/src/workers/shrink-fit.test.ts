import { expect, test } from "vitest";
import { fitWithin } from "./shrink-fit";

test.each([
  [{ width: 4000, height: 3000 }, { width: 2560, height: 1920 }],
  [{ width: 3000, height: 4000 }, { width: 1920, height: 2560 }],
  [{ width: 2560, height: 1440 }, { width: 2560, height: 1440 }],
  [{ width: 640, height: 480 }, { width: 640, height: 480 }],
  [{ width: 2561, height: 1 }, { width: 2560, height: 1 }],
  [{ width: 60000, height: 3 }, { width: 2560, height: 1 }],
])("%o is kept as %o", (taken, kept) => {
  expect(fitWithin(taken, 2560)).toEqual(kept);
});
