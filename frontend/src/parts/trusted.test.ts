import { expect, test } from "vitest";
import { isOurs } from "./trusted";

const ORIGIN = "http://127.0.0.1:8600";

test.each(["/sw.js", "/assets/scan-1a2b3c.js", `${ORIGIN}/assets/scan-1a2b3c.js`])("%s is ours", (address) => {
  expect(isOurs(address, ORIGIN, false)).toBe(true);
});

test.each(["/photos/ab", "/assets/../photos/x.js", "http://127.0.0.1:1/sw.js", "data:text/javascript,1", "/src/a.ts"])(
  "%s is not",
  (address) => {
    expect(isOurs(address, ORIGIN, false)).toBe(false);
  },
);
