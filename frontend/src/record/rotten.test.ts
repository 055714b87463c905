/** One line of the store that rotted: it is named, and nothing else is lost or blank because of it. */
import "fake-indexeddb/auto";
import { beforeEach, expect, test } from "vitest";
import catalogue from "../../../shared/catalogue/catalogue.json";
import { append } from "./append";
import { ownCustody } from "./custody";
import { openParts } from "./open";
import { selfCheck } from "./self-check";
import { entryByHash, inspectionState, lastEntries, partsOfScope } from "./state";
import { ownSteps } from "./steps";
import { closeStore, read, write } from "./store";
import { stuckItems } from "./stuck";
import { begun, marked, newTablet, photo, SCOPE, serial, ILA } from "./testing";

let tablet: Awaited<ReturnType<typeof newTablet>>;
beforeEach(async () => {
  tablet = await newTablet(JSON.stringify(catalogue));
});

const text = new TextEncoder();
/** How bytes rot: cut short, not UTF-8, valid JSON of another make, JSON that is no object, one digit changed. */
const ROTS: Readonly<Record<string, (line: Uint8Array) => Uint8Array<ArrayBuffer>>> = {
  cut: (line) => new Uint8Array(line.slice(0, line.length / 2)),
  "not UTF-8": (line) => new Uint8Array(line.map((byte, at) => (at === 40 ? 0xff : byte))),
  "another make": () => text.encode("{}"),
  "no object": () => text.encode("null"),
  "a digit changed": (line) => text.encode(new TextDecoder().decode(line).replace('"v":1', '"v":2')),
};

async function rot(seq: number, how: (line: Uint8Array) => Uint8Array<ArrayBuffer>): Promise<void> {
  await write(["entries"], async (tx) => {
    const store = tx.objectStore("entries");
    const row = await store.get([tablet.chain, seq]);
    await store.put({ ...row!, line: how(row!.line) });
  });
  await closeStore(); // what was remembered of the store goes with its connection, as after a restart
}

async function inspection(): Promise<string> {
  const start = await append(begun(tablet.catalogue));
  await append(serial(start.hash, await photo("serial")));
  await append(marked(start.hash, "lens"));
  await append(marked(start.hash, "nozzle"));
  await append({ kind: "custody.offered", by: ILA, about: { scope: SCOPE }, body: { to: { place: "store" } } as never });
  return start.hash;
}

test.each(Object.entries(ROTS))("a mark's line that rotted (%s) counts nowhere, is named, and is recorded again", async (_, how) => {
  const start = await inspection();
  await rot(3, how);
  const state = await inspectionState(start);
  expect(state?.serial).toBe(true);
  expect(state?.marks).toEqual({ nozzle: "nothing_found" });
  expect(state?.notLooked).toContain("lens");
  expect(state?.entries.map(({ entry, rotten, live }) => [entry.kind, rotten, live])).toEqual([
    ["inspection.begun", false, true], ["serial.photographed", false, true], ["part.marked", true, false], ["part.marked", false, true],
  ]);
  const [, , named] = [...(await lastEntries(40))].reverse();
  expect([named?.rotten, named?.entry.about, named?.entry.at === ""]).toEqual([true, { scope: SCOPE, inspection: start }, false]);
  expect((await selfCheck()).broken).toEqual([3]);
  expect(await stuckItems()).toEqual([]);
  expect((await append(marked(start, "lens"))).seq).toBe(6);
  expect((await inspectionState(start))?.marks).toEqual({ nozzle: "nothing_found", lens: "nothing_found" });
});

test.each([1, 2, 3, 4, 5])("whichever line rots, no list of this tablet is lost with it: line %i", async (seq) => {
  const start = await inspection();
  await rot(seq, ROTS["cut"]!);
  const [last, open, parts, steps, words, stuck] = await Promise.all([
    lastEntries(40), openParts(), partsOfScope(SCOPE), ownSteps(SCOPE), ownCustody(SCOPE), stuckItems(),
  ]);
  expect(last.map(({ entry, rotten }) => (rotten ? 0 : entry.seq))).toEqual([5, 4, 3, 2, 1].map((each) => (each === seq ? 0 : each)));
  expect(open).toHaveLength(seq === 1 ? 0 : 1);
  expect(parts).toHaveLength(1);
  expect(steps.live).toEqual([]);
  expect(words).toHaveLength(seq === 5 ? 0 : 1);
  expect(stuck).toEqual([]);
  const rotten = last.find((row) => row.rotten);
  expect((await entryByHash(rotten!.hash))?.rotten).toBe(true);
  const again = await append(begun(tablet.catalogue));
  expect(again.seq).toBe(6);
  expect((await inspectionState(start)) === undefined).toBe(seq === 1);
  expect(await read(["entries"], (tx) => tx.objectStore("entries").count())).toBe(6);
});
