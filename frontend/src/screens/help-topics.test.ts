// capability: breadth
import { expect, test } from "vitest";
import { TOPICS } from "./help-topics";
import { SCREENS } from "./where";

test("every screen but help itself opens help at a topic about it", () => {
  const about = new Set(TOPICS.flatMap(({ screens }) => screens));
  expect(SCREENS.filter((screen) => screen !== "help" && !about.has(screen))).toEqual([]);
});

test("no screen is in two topics, and every topic says something", () => {
  const about = TOPICS.flatMap(({ screens }) => screens);
  expect(about.length).toBe(new Set(about).size);
  expect(TOPICS.filter(({ says }) => says.length === 0)).toEqual([]);
});
