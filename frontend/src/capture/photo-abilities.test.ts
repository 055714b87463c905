// capability: photos
import { describe, expect, test } from "vitest";
import { abilitiesOf, stepped } from "./photo-abilities";

/** A track that can do what is said, and writes down what it was asked for. Names by W3C MediaStream Image Capture. */
function track(can: object, set: object = {}, obeys = true): { readonly asked: unknown[]; readonly track: MediaStreamTrack } {
  const asked: unknown[] = [];
  const told = {
    label: "a microscope that can do everything", // a name never counts
    getCapabilities: () => can,
    getSettings: () => set,
    applyConstraints: ({ advanced: [wish] }: { advanced: unknown[] }) => {
      asked.push(wish);
      return obeys ? Promise.resolve() : Promise.reject(new DOMException("", "OverconstrainedError"));
    },
  };
  return { asked, track: told as unknown as MediaStreamTrack };
}

const ALL = {
  torch: true, zoom: { min: 1, max: 5, step: 0.1 }, focusMode: ["manual", "continuous", "single-shot"],
  focusDistance: { min: 0, max: 2, step: 0.01 }, exposureMode: ["manual", "continuous"],
};

test("what a camera says it can do is set as it says", async () => {
  const { asked, track: one } = track(ALL, { zoom: 1.5, focusDistance: 0.5, pointsOfInterest: [] });
  const can = abilitiesOf(one);
  await can.torch?.(true);
  await can.zoom?.to(9);
  await can.focus?.to(-3);
  await can.autofocus?.();
  await can.focusAt?.(0.25, 0.75);
  await can.holdExposure?.(true);
  await can.holdExposure?.(false);
  expect(asked).toEqual([
    { torch: true }, { zoom: 5 }, { focusMode: "manual", focusDistance: 0 }, { focusMode: "continuous" },
    { focusMode: "single-shot", pointsOfInterest: [{ x: 0.25, y: 0.75 }] }, { exposureMode: "manual" }, { exposureMode: "continuous" },
  ]);
  expect([can.zoom?.at, can.focus?.at]).toEqual([1.5, 0.5]);
});

describe("nothing is offered", () => {
  const none = { torch: null, zoom: null, focus: null, autofocus: null, focusAt: null, holdExposure: null };
  test.each([
    ["that the track does not say it can", {}, {}],
    ["for what it says it cannot", { torch: false, zoom: { min: 1, max: 1, step: 1 }, focusMode: ["none"], exposureMode: ["continuous"] }, {}],
    ["for a distance it cannot be told by hand", { focusDistance: { min: 0, max: 1, step: 0.1 }, focusMode: [] }, {}],
    ["for a place where it never focuses", { exposureMode: ["manual"] }, { pointsOfInterest: [] }],
  ])("%s", (_, can, set) => {
    expect(abilitiesOf(track(can, set).track)).toEqual(none);
  });

  test("by a browser that knows no capabilities", () => {
    expect(abilitiesOf({ label: "rear camera, torch, zoom" } as MediaStreamTrack)).toEqual(none);
  });
});

test("a camera that does not obey says so", async () => {
  const can = abilitiesOf(track(ALL, { pointsOfInterest: [] }, false).track);
  expect(await Promise.all([can.torch?.(true), can.zoom?.to(2), can.autofocus?.(), can.focusAt?.(0, 0), can.holdExposure?.(true)])).toEqual([false, false, false, false, false]);
});

test("a step is an eighth of the way, never finer than the camera's own, and ends at its ends", () => {
  const range = (min: number, max: number, step: number) => ({ range: { min, max, step }, at: min, to: () => Promise.resolve(true) });
  expect(stepped(range(1, 5, 0.1), 1, 1)).toBeCloseTo(1.5);
  expect(stepped(range(0, 2, 1), 0, 1)).toBe(1);
  expect(stepped(range(1, 5, 0.1), 4.9, 1)).toBe(5);
  expect(stepped(range(1, 5, 0.1), 1.2, -1)).toBe(1);
  expect(stepped(range(1, 5, 0.1), undefined, 1)).toBeCloseTo(1.5);
});
