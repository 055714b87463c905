// capability: breadth
import "fake-indexeddb/auto";
import { beforeEach, expect, test } from "vitest";
import catalogueFile from "../../../shared/catalogue/catalogue.json";
import { append } from "../record/append";
import { begun, finding, ILA, newTablet, photo, SCOPE, serial, withdrawn } from "../record/testing";
import { write } from "../record/store";
import { type SentBack, sentBackWithin } from "../rules/again";
import { sentBackHere } from "./again";

/** Counted over cycles: Infect Control Hosp Epidemiol 2022;43:1466; the days are the facility's number. */
const NOON = Date.parse("2026-11-25T12:00:00.000Z");
const DAY = 24 * 3_600_000;
let ms = NOON;
let catalogue = "";

beforeEach(async () => {
  ms = NOON;
  catalogue = (await newTablet(JSON.stringify(catalogueFile), () => new Date(ms))).catalogue;
});

/** One look of this tablet; with `soil` it finds some. */
async function look(first: "nothing" | "clean" | "whole", soil = false): Promise<{ readonly root: string; readonly hash: string }> {
  const { hash: root } = await append(begun(catalogue, "after_cleaning"));
  await append(serial(root, await photo("serial")));
  if (soil) await append(finding(root, "lens", await photo("finding")));
  const counts = { not_looked: 0, nothing_found: 0, finding: 0, could_not_look: 0, not_due: 0, none_here: 0 };
  const { parts, channels } = catalogueFile.kinds.colonoscope.points.after_cleaning;
  const left = [...parts, ...channels].map((part) => ({ part, reason: "held_at_once" }));
  const body = { first, goes: "hold", suggested_first: first, suggested_goes: "on", rows: [], counts, left } as const;
  const { hash } = await append({ kind: "inspection.concluded", by: ILA, about: { scope: SCOPE, inspection: root }, body: body as never });
  return { root, hash };
}

const carried = (sent_back: readonly SentBack[]): Promise<unknown> =>
  write(["cards"], (tx) => tx.objectStore("cards").put({ table: "scopes", id: SCOPE, words: [], row: { scope: SCOPE, sent_back } }));
const counted = async (root = ""): Promise<number> => sentBackWithin(await sentBackHere(SCOPE), root, ms, 90);

test("a scope sent back once in each of three cycles is counted, whoever did it, without a network", async () => {
  await carried([{ entry: "e".repeat(64), root: "r".repeat(64), at_ms: NOON - 80 * DAY }]);
  await look("clean");
  await look("nothing");
  ms += DAY;
  expect(await counted()).toBe(2);
});

test("one that the card carries too is counted once, and none that was taken back here", async () => {
  const { root, hash } = await look("clean");
  await carried([{ entry: hash, root, at_ms: NOON }]);
  ms += DAY;
  expect(await counted()).toBe(1);
  await append(withdrawn(hash, root));
  expect(await counted()).toBe(0);
});

test("the whole cycle counts where dirt was found, not where time or moisture asked for it", async () => {
  await look("whole");
  ms += DAY;
  expect(await counted()).toBe(0);
  const { root } = await look("whole", true);
  ms += DAY;
  expect([await counted(), await counted(root)]).toEqual([1, 0]);
});
