import "fake-indexeddb/auto";
import { afterEach, beforeEach, expect, test, vi } from "vitest";

/** The modules anew, as in a page that has just been opened: the log is asked for once a page. */
async function openedPage() {
  vi.resetModules();
  const { configureRecord } = await import("./setting");
  configureRecord({ store: `page-${crypto.randomUUID()}`, build: "test" });
  return import("./store");
}

let store: Awaited<ReturnType<typeof openedPage>>;
beforeEach(async () => {
  store = await openedPage();
});
afterEach(() => {
  vi.restoreAllMocks();
  vi.useRealTimers();
});

const writeOne = () => store.write(["drafts"], (tx) => tx.objectStore("drafts").put({ id: "a", ms: 1, value: 1, photos: [] }));

test("nothing is written by a page before the browser was made to begin a new log", async () => {
  const seen: string[] = [];
  const original = IDBDatabase.prototype.transaction;
  vi.spyOn(IDBDatabase.prototype, "transaction").mockImplementation(function (this: IDBDatabase, ...given) {
    if (given[1] === "readwrite") seen.push("write");
    return original.apply(this, given);
  });
  const remove = indexedDB.deleteDatabase.bind(indexedDB);
  vi.spyOn(indexedDB, "deleteDatabase").mockImplementation((name) => {
    const request = remove(name);
    request.addEventListener("success", () => seen.push(`gone: ${name}`));
    return request;
  });
  await Promise.all([writeOne(), writeOne()]);
  await writeOne();
  expect(seen).toEqual(["gone: loupebook-log", "write", "write", "write"]);
});

test("the next start finds a database to delete", async () => {
  await writeOne();
  expect((await indexedDB.databases()).map(({ name }) => name)).toContain("loupebook-log");
});

test("a browser that does not answer keeps no save waiting for more than two seconds", async () => {
  vi.resetModules();
  const { freshLog } = await import("./fresh-log");
  vi.spyOn(indexedDB, "deleteDatabase").mockReturnValue({} as IDBOpenDBRequest);
  vi.useFakeTimers({ toFake: ["setTimeout", "clearTimeout"] });
  let over = false;
  const waiting = freshLog().then(() => (over = true));
  await vi.advanceTimersByTimeAsync(1999);
  expect(over).toBe(false);
  await vi.advanceTimersByTimeAsync(1);
  await waiting;
  expect(over).toBe(true);
});
