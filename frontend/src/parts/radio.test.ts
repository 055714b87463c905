import { expect, test } from "vitest";
import { move } from "./radio";

// ARIA Authoring Practices Guide, "Radio Group Pattern", keyboard interaction (from memory; Home and End are ours).
test("arrows go on and back and round the end of a radio group", () => {
  expect(["ArrowRight", "ArrowDown"].map((key) => move(key, 2, 3, false))).toEqual([0, 0]);
  expect(["ArrowLeft", "ArrowUp"].map((key) => move(key, 0, 3, false))).toEqual([2, 2]);
  expect(["Home", "End"].map((key) => move(key, 1, 3, false))).toEqual([0, 2]);
});

test("left and right follow the reading direction, up and down do not", () => {
  expect(["ArrowRight", "ArrowLeft", "ArrowDown"].map((key) => move(key, 1, 3, true))).toEqual([0, 2, 2]);
});

test("other keys are left to the page", () => {
  expect(["Tab", "a", " ", "Enter"].map((key) => move(key, 1, 3, false))).toEqual([null, null, null, null]);
});
