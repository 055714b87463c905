import { beforeEach, expect, test, vi } from "vitest";
import { Saving } from "./saving.svelte";

beforeEach(() => vi.stubGlobal("location", { hash: "#/functions" }));

/** An act that ends when it is let. */
function held(kept: string[], name: string): { act: () => Promise<void>; end: () => void } {
  let end: () => void = () => undefined;
  const ended = new Promise<void>((resolve) => (end = resolve));
  return { act: () => ended.then(() => void kept.push(name)), end };
}

test("an answer that is given while another is kept comes after it, in the order of the taps", async () => {
  const [saving, kept] = [new Saving(), [] as string[]];
  const [first, second, third] = [held(kept, "angulation"), held(kept, "light"), held(kept, "suction")];
  const done = [saving.inTurn("angulation weak", first.act), saving.inTurn("light works", second.act), saving.inTurn("suction works", third.act)];
  for (const each of [third, second, first]) each.end();
  expect(await Promise.all(done)).toEqual([true, true, true]);
  expect(kept).toEqual(["angulation", "light", "suction"]);
});

test("the same answer tapped twice before it was kept is one; afterwards it is one more", async () => {
  const [saving, kept] = [new Saving(), [] as string[]];
  const first = held(kept, "light");
  const done = [saving.inTurn("light works", first.act), saving.inTurn("light works", first.act)];
  first.end();
  expect(await Promise.all(done)).toEqual([true, false]);
  expect(await saving.inTurn("light works", first.act)).toBe(true);
  expect(kept).toEqual(["light", "light"]);
});

test("who changes their mind twice before the first is kept is left with the last answer", async () => {
  const [saving, kept] = [new Saving(), [] as string[]];
  const [weak, works, weakAgain] = [held(kept, "weak"), held(kept, "works"), held(kept, "weak again")];
  const done = [saving.inTurn("light weak", weak.act), saving.inTurn("light works", works.act), saving.inTurn("light weak", weakAgain.act)];
  for (const each of [weak, works, weakAgain]) each.end();
  expect(await Promise.all(done)).toEqual([true, true, true]);
  expect(kept).toEqual(["weak", "works", "weak again"]);
});

test("one that could not be kept is told, and the next is still tried", async () => {
  const [saving, kept] = [new Saving(), [] as string[]];
  const second = held(kept, "light");
  const done = [saving.inTurn("angulation weak", () => Promise.reject(new Error("no room"))), saving.inTurn("light works", second.act)];
  second.end();
  expect(await Promise.all(done)).toEqual([false, true]);
  expect(kept).toEqual(["light"]);
  expect(saving.problem).toEqual(new Error("no room"));
  await saving.inTurn("angulation weak", () => Promise.resolve());
  expect(saving.problem).toBeUndefined();
});

test("all other acts are still one at a time: a second tap while one is under way does nothing", async () => {
  const [saving, kept] = [new Saving(), [] as string[]];
  const first = held(kept, "photo");
  const done = [saving.run(first.act), saving.run(first.act)];
  first.end();
  expect(await Promise.all(done)).toEqual([true, false]);
  expect(kept).toEqual(["photo"]);
});
