// capability: breadth
import { expect, test } from "vitest";
import { qrPath, qrSide } from "./qr";

test("a run of dark modules is one box, moved in by the quiet zone", () => {
  expect(qrPath(["110", "000", "101"])).toBe("M4 4h2v1h-2zM4 6h1v1h-1zM6 6h1v1h-1z");
  expect(qrSide(["110", "000", "101"])).toBe(11);
});

test("nothing dark draws nothing", () => {
  expect(qrPath(["00", "00"])).toBe("");
});
