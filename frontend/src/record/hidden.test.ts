// capability: photos
import "fake-indexeddb/auto";
import { beforeEach, expect, test } from "vitest";
import catalogue from "../../../shared/catalogue/catalogue.json";
import { append } from "./append";
import { hiddenPhotos, type HiddenCard, keepHiddenIn } from "./hidden";
import { keepPhotoReceipt, waitingPhotos } from "./outbox";
import { photoBytes } from "./state";
import { read, write } from "./store";
import { begun, ILA, newTablet, photo, SCOPE, serial } from "./testing";
import { exportUnsent } from "./unsent";

const EPOCH = { n: 1, id: "one" };
let shot: Awaited<ReturnType<typeof photo>>;

beforeEach(async () => {
  const { catalogue: pin } = await newTablet(JSON.stringify(catalogue));
  shot = await photo("serial");
  const start = await append(begun(pin));
  await append(serial(start.hash, shot));
});

const hide = async (): Promise<string> => (await append({ kind: "photo.restricted", by: ILA, about: { scope: SCOPE }, body: { photo: shot.sha256 } })).hash;
const told = (rows: readonly HiddenCard[], whole = false): Promise<void> => write(["cards", "held", "photos"], (tx) => keepHiddenIn(tx, rows, whole));
const bytesHere = async (): Promise<boolean> => (await read(["photos"], (tx) => tx.objectStore("photos").get(shot.sha256))) !== undefined;
const isHidden = async (): Promise<boolean> => (await hiddenPhotos()).has(shot.sha256);

test("from the moment of the entry no screen is given the bytes, and the sender still has them", async () => {
  expect(await photoBytes(shot.sha256)).toBeDefined();
  await hide();
  expect(await isHidden()).toBe(true);
  expect(await photoBytes(shot.sha256)).toBeUndefined();
  expect(await bytesHere()).toBe(true);
});

test("the bytes go with their receipt; those of other photos stay", async () => {
  const other = await photo("part");
  await append({ kind: "hold.placed", by: ILA, about: { scope: SCOPE }, body: { reason: "doubt", tag_on: true }, photos: [other] });
  await hide();
  await keepPhotoReceipt(shot.sha256, EPOCH);
  await keepPhotoReceipt(other.sha256, EPOCH);
  expect(await bytesHere()).toBe(false);
  expect(await read(["photos"], (tx) => tx.objectStore("photos").get(other.sha256))).toBeDefined();
  expect((await read(["held"], (tx) => tx.objectStore("held").get(shot.sha256)))?.freed).toBe(1);
  expect(await waitingPhotos()).toEqual([]);
});

test("hidden elsewhere after the receipt: bytes and small picture go at once", async () => {
  await keepPhotoReceipt(shot.sha256, EPOCH);
  await write(["cards"], (tx) => tx.objectStore("cards").put({ table: "then", id: shot.sha256, words: [], row: {} }));
  await told([{ photo: shot.sha256, hidden: true, ended: [] }]);
  expect(await bytesHere()).toBe(false);
  expect(await read(["cards"], (tx) => tx.objectStore("cards").get(["then", shot.sha256]))).toBeUndefined();
});

test("an answer from before its own entry arrived does not show it; one that names the entry as ended does", async () => {
  const entry = await hide();
  await told([]);
  await told([], true);
  await told([{ photo: shot.sha256, hidden: false, ended: ["e".repeat(64)] }]);
  expect(await isHidden()).toBe(true);
  await told([{ photo: shot.sha256, hidden: false, ended: [entry] }]);
  expect(await isHidden()).toBe(false);
  expect(await photoBytes(shot.sha256)).toBeDefined();
  await hide();
  expect(await isHidden()).toBe(true);
});

test("a whole answer that no longer names it shows what others had hidden", async () => {
  await told([{ photo: shot.sha256, hidden: true, ended: [] }]);
  await told([], true);
  expect(await isHidden()).toBe(false);
});

test("a file of unsent work holds the entry and not the bytes", async () => {
  const lines = async (): Promise<string> => (await exportUnsent()).text();
  expect(await lines()).toContain(`"photo":"${shot.sha256}","type"`);
  await hide();
  expect(await lines()).not.toContain(`"photo":"${shot.sha256}","type"`);
  expect(await lines()).toContain("photo.restricted");
});
