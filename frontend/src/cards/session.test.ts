import "fake-indexeddb/auto";
import { afterEach, beforeEach, expect, test, vi } from "vitest";
import { keepDraft, readDraft } from "../record/drafts";
import { configureRecord } from "../record/setting";
import { append } from "../record/append";
import { begun, newTablet, readNow } from "../record/testing";
import catalogue from "../../../shared/catalogue/catalogue.json";
import { by, goOnByName, IDLE_MS, lock, session, type Session, switchTo, touch } from "./session";
import { signIn, signOut } from "./sign-in";
import { NoPinCheck, PinStopped, WrongPin } from "./trouble";

const PIN = "481937";
let tablet: Awaited<ReturnType<typeof newTablet>>;
let shown: Session;
session.subscribe((value) => (shown = value));

function answer(json: object, status = 200): void {
  const headers = { "content-type": "application/json", "x-loupebook": "1" };
  configureRecord({ fetch: () => Promise.resolve(new Response(JSON.stringify(json), { status, headers })) });
}
const online = (): void =>
  answer({ person: "ila_venn", roles: ["technician"], ticket: "t-1", until: new Date(Date.now() + 3_600_000).toISOString() });
const trouble = (code: string, status: number): void => answer({ trouble: { code, so: "", safe: "", next: "" } }, status);
const offline = (): void => configureRecord({ fetch: () => Promise.reject(new TypeError("Failed to fetch")) });

beforeEach(async () => {
  tablet = await newTablet(JSON.stringify(catalogue));
  lock();
});
afterEach(() => {
  vi.useRealTimers();
});

test("an online sign-in names its ticket; an ended ticket is a PIN given here", async () => {
  online();
  await signIn("ila_venn", PIN);
  expect(by()).toEqual({ person: "ila_venn", proof: { how: "pin", where: "online", ticket: "t-1" } });
  vi.useFakeTimers({ toFake: ["Date"], now: Date.now() + 3_700_000 });
  expect(by()).toEqual({ person: "ila_venn", proof: { how: "pin", where: "offline" } });
});

test("without the network a name that never signed in here goes on by name, not proved", async () => {
  offline();
  await expect(signIn("rin_oake", PIN)).rejects.toThrow(NoPinCheck);
  await goOnByName("rin_oake");
  expect(by()).toEqual({ person: "rin_oake", proof: { how: "named", where: "offline" } });
});

test("a network that goes just after the sign-in finds the tablet's own check all the same", async () => {
  online();
  await signIn("ila_venn", PIN);
  lock();
  offline();
  await expect(signIn("ila_venn", "481938")).rejects.toThrow(WrongPin);
});

test.each([
  ["wrong_pin", 401, WrongPin],
  ["pin_waits", 429, WrongPin],
  ["pin_stopped", 423, PinStopped],
])("the server's %s is not asked again of the tablet's own check", async (code, status, kind) => {
  trouble(code, status);
  await expect(signIn("ila_venn", PIN)).rejects.toThrow(kind);
  expect(by()).toBeUndefined();
});

test("one tap goes on as another and back with the proof given since the last lock", async () => {
  online();
  await signIn("ila_venn", PIN);
  await switchTo("rin_oake");
  expect(by()?.proof.how).toBe("named");
  await switchTo("ila_venn");
  expect(by()?.proof).toEqual({ how: "pin", where: "online", ticket: "t-1" });
  lock();
  await switchTo("ila_venn");
  expect(by()?.proof.how).toBe("named");
});

test("switching, locking and signing out keep drafts and unsent work", async () => {
  offline();
  await goOnByName("ila_venn");
  await append(begun(tablet.catalogue));
  await keepDraft("place", { words: "half" });
  await switchTo("rin_oake");
  lock();
  await signOut();
  expect((await readDraft("place"))?.value).toEqual({ words: "half" });
  expect((await readNow()).unsent).toBe(1);
});

test("two minutes without a touch lock; a touch begins them anew", async () => {
  offline();
  vi.useFakeTimers({ toFake: ["Date", "setTimeout", "clearTimeout"] });
  const signing = goOnByName("ila_venn");
  await vi.advanceTimersByTimeAsync(10);
  await signing;
  await vi.advanceTimersByTimeAsync(IDLE_MS - 1000);
  expect(shown.locked).toBe(false);
  touch();
  await vi.advanceTimersByTimeAsync(IDLE_MS - 1000);
  expect(shown.locked).toBe(false);
  await vi.advanceTimersByTimeAsync(2000);
  expect([shown.locked, shown.who, shown.last]).toEqual([true, undefined, "ila_venn"]);
});
