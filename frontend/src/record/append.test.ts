import "fake-indexeddb/auto";
import { beforeEach, expect, test } from "vitest";
import catalogue from "../../../shared/catalogue/catalogue.json";
import { append } from "./append";
import { hashLine } from "./hash";
import { readLine } from "./line";
import { openParts } from "./open";
import { inspectionState, lastEntries, photoBytes } from "./state";
import { read } from "./store";
import { begun, finding, marked, newTablet, photo, serial, withdrawn } from "./testing";
import { NotEnrolled, Refused } from "./trouble";
import { configureRecord } from "./setting";

let tablet: Awaited<ReturnType<typeof newTablet>>;
beforeEach(async () => {
  tablet = await newTablet(JSON.stringify(catalogue));
});

const rows = () => read(["entries"], (tx) => tx.objectStore("entries").getAll());

test("entries are linked by hash from the chain's id on", async () => {
  const start = await append(begun(tablet.catalogue));
  await append(serial(start.hash, await photo("serial")));
  const [first, second] = await rows();
  expect(readLine(first!.line).prev).toBe(tablet.chain);
  expect(readLine(second!.line).prev).toBe(hashLine(first!.line));
  expect([first!.seq, second!.seq]).toEqual([1, 2]);
});

test("a mark before the serial photo is refused and nothing is stored", async () => {
  const start = await append(begun(tablet.catalogue));
  const refused = await append(marked(start.hash, "lens")).catch((cause: unknown) => cause);
  expect(refused).toBeInstanceOf(Refused);
  expect((refused as Refused).reason).toBe("serial_first");
  expect(await rows()).toHaveLength(1);
  const next = await append(serial(start.hash, await photo("serial")));
  expect(next.seq).toBe(2);
});

test("twenty saves at once become twenty entries in a row", async () => {
  const start = await append(begun(tablet.catalogue));
  await append(serial(start.hash, await photo("serial")));
  const parts = ["lens", "nozzle", "tube_1", "tube_2", "tube_3"];
  const saved = await Promise.all(Array.from({ length: 20 }, (_, at) => append(marked(start.hash, parts[at % 5]!))));
  expect(saved.map((one) => one.seq).sort((a, b) => a - b)).toEqual(Array.from({ length: 20 }, (_, at) => at + 3));
  const all = await rows();
  for (const [at, row] of all.entries()) {
    expect(readLine(row.line).prev).toBe(at === 0 ? tablet.chain : hashLine(all[at - 1]!.line));
  }
});

test("photos lie beside their entry with the bytes their name says", async () => {
  const start = await append(begun(tablet.catalogue));
  const shot = await photo("serial", 50_000);
  const saved = await append(serial(start.hash, shot));
  expect(saved.photos).toEqual([shot.sha256]);
  const blob = await photoBytes(shot.sha256);
  expect(new Uint8Array(await blob!.arrayBuffer())).toEqual(new Uint8Array(shot.bytes));
});

test("undo takes a mark back by a new entry", async () => {
  const start = await append(begun(tablet.catalogue));
  await append(serial(start.hash, await photo("serial")));
  const mark = await append(marked(start.hash, "lens"));
  expect((await inspectionState(start.hash))?.marks).toEqual({ lens: "nothing_found" });
  await append(withdrawn(mark.hash, start.hash));
  const state = await inspectionState(start.hash);
  expect(state?.marks).toEqual({});
  expect(state?.entries.map((entry) => entry.live)).toEqual([true, true, false, false]);
  expect((await lastEntries(2)).map((entry) => entry.entry.kind)).toEqual(["entry.withdrawn", "part.marked"]);
});

test("a serial photo stays while a finding hangs on it", async () => {
  const start = await append(begun(tablet.catalogue));
  const shot = await append(serial(start.hash, await photo("serial")));
  await append(finding(start.hash, "lens", await photo("finding")));
  await expect(append(withdrawn(shot.hash, start.hash))).rejects.toMatchObject({ reason: "target_not_withdrawable" });
});

test("an inspection part is open until it is ended", async () => {
  const start = await append(begun(tablet.catalogue));
  expect((await openParts()).map((part) => part.begun)).toEqual([start.hash]);
  const { by, about } = marked(start.hash);
  const end = await append({ kind: "inspection.abandoned", by, about, body: { reason: "interrupted" } });
  expect(await openParts()).toEqual([]);
  await append(withdrawn(end.hash, start.hash));
  expect((await openParts()).map((part) => part.begun)).toEqual([start.hash]);
});

test("a browser without a chain records nothing", async () => {
  configureRecord({ store: "nothing-here" });
  const { closeStore } = await import("./store");
  await closeStore();
  await expect(append(begun(tablet.catalogue))).rejects.toBeInstanceOf(NotEnrolled);
});
