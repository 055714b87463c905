import "fake-indexeddb/auto";
import { afterEach, beforeEach, expect, test, vi } from "vitest";
import catalogue from "../../../shared/catalogue/catalogue.json";
import { append } from "./append";
import { drafts, forgetDraft, keepDraft, readDraft } from "./drafts";
import { selfCheck } from "./self-check";
import { lastEntries } from "./state";
import { configureRecord } from "./setting";
import { isStoreUsable } from "./status";
import { closeStore, OPEN_DEADLINE_MS, openStore, read, write } from "./store";
import { begun, newTablet, photo, readNow, serial } from "./testing";
import { StoreUnusable } from "./trouble";

let tablet: Awaited<ReturnType<typeof newTablet>>;
beforeEach(async () => {
  tablet = await newTablet(JSON.stringify(catalogue));
});
afterEach(() => {
  vi.restoreAllMocks();
  vi.useRealTimers();
});

/** The browser closed the connection behind our back, so many times. */
function lose(times: number): void {
  const original = IDBDatabase.prototype.transaction;
  let left = times;
  vi.spyOn(IDBDatabase.prototype, "transaction").mockImplementation(function (this: IDBDatabase, ...given) {
    left -= 1;
    if (left >= 0) throw new DOMException("The database connection is closing.", "InvalidStateError");
    return original.apply(this, given);
  });
}

test("a tablet that recorded nothing yet has no last entries", async () => {
  expect(await lastEntries(40)).toEqual([]);
});

test("a lost connection is opened again once, and the save goes through", async () => {
  lose(1);
  expect((await append(begun(tablet.catalogue))).seq).toBe(1);
});

test("lost twice in a row is said, and nothing was stored", async () => {
  lose(2);
  await expect(append(begun(tablet.catalogue))).rejects.toMatchObject({ problem: "lost" });
  vi.restoreAllMocks();
  expect(await read(["entries"], (tx) => tx.objectStore("entries").count())).toBe(0);
});

test("a store that does not open in five seconds is said to be unusable, not waited for", async () => {
  await closeStore();
  const silent = Object.create(IDBOpenDBRequest.prototype, { addEventListener: { value: () => undefined } }) as IDBOpenDBRequest;
  vi.spyOn(indexedDB, "open").mockReturnValue(silent);
  vi.useFakeTimers({ toFake: ["setTimeout", "clearTimeout"] });
  const opening = openStore().catch((cause: unknown) => cause);
  await vi.advanceTimersByTimeAsync(OPEN_DEADLINE_MS);
  const cause = await opening;
  expect(cause).toBeInstanceOf(StoreUnusable);
  expect((cause as StoreUnusable).problem).toBe("slow_open");
  vi.restoreAllMocks();
  vi.useRealTimers();
  expect(await isStoreUsable()).toBe(true);
});

test("a store of a newer build is left alone", async () => {
  await closeStore();
  const name = `newer-${crypto.randomUUID()}`;
  await new Promise<void>((resolve) => {
    const request = indexedDB.open(name, 99);
    request.onsuccess = () => {
      request.result.close();
      resolve();
    };
  });
  configureRecord({ store: name });
  await expect(openStore()).rejects.toMatchObject({ problem: "newer_store" });
});

test("a write whose body fails leaves nothing behind", async () => {
  const failing = write(["drafts"], async (tx) => {
    await tx.objectStore("drafts").put({ id: "a", ms: 1, value: 1, photos: [] });
    throw new RangeError("half-way");
  });
  await expect(failing).rejects.toThrow(RangeError);
  expect(await drafts()).toEqual([]);
});

test("drafts come back, the newest first, and go with the entry that was made of them", async () => {
  await keepDraft("a", { words: "one" });
  await keepDraft("b", { words: "two" }, [await photo("part", 10)], "ila_venn");
  expect((await readDraft<{ words: string }>("b"))?.value.words).toBe("two");
  await append({ ...begun(tablet.catalogue), draft: "a" });
  expect((await drafts()).map((draft) => draft.id)).toEqual(["b"]);
  await forgetDraft("b");
  expect(await drafts()).toEqual([]);
});

test("the check at start finds a line and a photo that are no longer what they were", async () => {
  const start = await append(begun(tablet.catalogue));
  const shot = await photo("serial");
  await append(serial(start.hash, shot));
  expect(await selfCheck()).toEqual({ broken: [], damaged: [] });
  await write(["entries", "photos"], async (tx) => {
    const row = await tx.objectStore("entries").get([tablet.chain, 2]);
    const line = new Uint8Array(row?.line ?? []);
    line[40] = (line[40] ?? 0) ^ 1;
    if (row !== undefined) await tx.objectStore("entries").put({ ...row, line });
    await tx.objectStore("photos").delete(shot.sha256);
  });
  expect(await selfCheck()).toEqual({ broken: [2], damaged: [shot.sha256] });
  expect((await readNow()).damagedPhotos).toEqual([shot.sha256]);
});

test("a store that lost its tail says so at start", async () => {
  await append(begun(tablet.catalogue));
  await append(begun(tablet.catalogue));
  await write(["entries"], (tx) => tx.objectStore("entries").delete([tablet.chain, 2]));
  expect((await selfCheck()).broken).toEqual([0]);
});
