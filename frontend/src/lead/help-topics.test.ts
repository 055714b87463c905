// capability: breadth
import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { TOPICS } from "./help-topics";

const SCREENS = [...readFileSync(new URL("./where.ts", import.meta.url), "utf8").matchAll(/readonly screen: "(\w+)"/g)].map(([, screen]) => screen);

test("every screen of the desk but help itself opens help at one topic about it", () => {
  const about = TOPICS.flatMap(({ screens }) => screens as readonly string[]);
  expect(SCREENS.length).toBeGreaterThan(15);
  expect(SCREENS.filter((screen) => screen !== "help" && about.filter((each) => each === screen).length !== 1)).toEqual([]);
});

test("every topic says something, and no id stands twice", () => {
  expect(TOPICS.filter(({ says }) => says.length === 0)).toEqual([]);
  expect(new Set(TOPICS.map(({ id }) => id)).size).toBe(TOPICS.length);
});
