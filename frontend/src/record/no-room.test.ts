import { expect, test } from "vitest";
import { isNoRoom, toFree } from "./no-room";
import type { HeldRow } from "./schema";

const held = (sha256: string, more: Partial<HeldRow>): HeldRow => ({ sha256, bytes: 100, chain: "c", seq: 1, ms: 1, ...more });
const receipt = { epoch: "e", at: "2026-03-02T08:00:00.000+01:00" };

test("a photo without a receipt is never freed, nor one that is to be sent again", () => {
  const rows = [held("a", { waiting: 1 }), held("b", { waiting: 1, receipt }), held("c", {})];
  expect(toFree(rows, 100, 1000)).toEqual([]);
});

test("the backed up leave first, then the oldest, and no more than are needed", () => {
  const rows = [
    held("late", { receipt, seq: 9, ms: 5 }), held("old", { receipt, seq: 8, ms: 1 }), held("backed", { receipt, seq: 2, ms: 9 }),
  ];
  expect(toFree(rows, 3, 150).map((row) => row.sha256)).toEqual(["backed", "old"]);
});

test("a real full disk and an abort while photos are written are no room; without photos they are not", () => {
  const disk = new DOMException("Failed to write blobs (FileErrorOnWrite)", "DataError");
  expect([isNoRoom(disk, true), isNoRoom(disk, false)]).toEqual([true, false]);
  const quota = new DOMException("", "QuotaExceededError");
  expect([isNoRoom(quota, true), isNoRoom(quota, false)]).toEqual([true, true]);
});
