import { afterEach, expect, test, vi } from "vitest";
import { watchForUpdates } from "./updates";

afterEach(() => {
  vi.unstubAllGlobals();
});

/** A page with a new build waiting; answers what it was told. */
function page(): { readonly told: string[]; readonly changed: () => void } {
  const told: string[] = [];
  let changed: () => void = () => undefined;
  const waiting = { postMessage: (word: string) => told.push(word) };
  const registration = { waiting, update: () => Promise.resolve() };
  vi.stubGlobal("navigator", { serviceWorker: { register: () => Promise.resolve(registration), addEventListener: (_: string, run: () => void) => (changed = run) } });
  vi.stubGlobal("document", { addEventListener: () => undefined, visibilityState: "visible" });
  vi.stubGlobal("location", { origin: "http://127.0.0.1:8600", reload: () => told.push("reload") });
  vi.stubGlobal("setInterval", () => 0);
  return { told, changed: () => changed() };
}

test("a new build is let in at the opening, however late it is known that nothing is begun", async () => {
  const { told } = page();
  let answer: (safe: boolean) => void = () => undefined;
  const safe = new Promise<boolean>((resolve) => (answer = resolve));
  await watchForUpdates(() => safe);
  expect(told).toEqual([]);
  answer(true);
  await vi.waitFor(() => expect(told).toEqual(["take-over"]));
});

test("a draft keeps it waiting", async () => {
  const { told } = page();
  await watchForUpdates(() => Promise.resolve(false));
  await Promise.resolve();
  expect(told).toEqual([]);
});

test("the page loads anew when the build takes over soon, and stays under a hand when it comes late", async () => {
  const soon = page();
  await watchForUpdates(() => Promise.resolve(true));
  await vi.waitFor(() => expect(soon.told).toEqual(["take-over"]));
  soon.changed();
  await vi.waitFor(() => expect(soon.told).toEqual(["take-over", "reload"]));

  const late = page();
  await watchForUpdates(() => Promise.resolve(true));
  await vi.waitFor(() => expect(late.told).toEqual(["take-over"]));
  vi.spyOn(performance, "now").mockReturnValue(performance.now() + 60_000);
  late.changed();
  await new Promise((resolve) => setTimeout(resolve));
  expect(late.told).toEqual(["take-over"]);
  vi.restoreAllMocks();
});
