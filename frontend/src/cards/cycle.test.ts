// capability: breadth
import "fake-indexeddb/auto";
import { beforeEach, expect, test } from "vitest";
import catalogueFile from "../../../shared/catalogue/catalogue.json";
import { append } from "../record/append";
import { configureRecord } from "../record/setting";
import { ILA, SCOPE, begun, newTablet, serial, photo, withdrawn } from "../record/testing";
import { putMeta } from "../record/meta";
import { write } from "../record/store";
import type { CycleEvent } from "../rules/cycle";
import { standOfScope, standsHere } from "./cycle";
import { fetchCards } from "./fetch";

const NOON = Date.parse("2026-11-25T12:00:00.000Z");
const HOUR = 3_600_000;
const OTHER = "mms:alder|a180|4410222";
let ms = NOON;
let catalogue = "";

const PROCESSED: CycleEvent = { entry: "p".repeat(64), what: "processed", at_ms: NOON - 2 * HOUR, chain: "c".repeat(64), seq: 7, machine: "W-2", cycle: "3107" };
const step = (kind: "scope.received" | "scope.processed" | "scope.hung" | "scope.taken", body: Readonly<Record<string, unknown>> = { place: "Sink 1" }, scope = SCOPE) =>
  append({ kind, by: ILA, about: { scope }, body: body as never });

function carried(events: readonly CycleEvent[], scope = SCOPE): Promise<unknown> {
  const row = { scope, events };
  return write(["cards"], (tx) => tx.objectStore("cards").put({ table: "cycle", id: scope, words: [], row }));
}

beforeEach(async () => {
  ms = NOON;
  catalogue = (await newTablet(JSON.stringify(catalogueFile), () => new Date(ms))).catalogue;
});

test("nothing is known on an empty tablet", async () => {
  expect((await standsHere()).stands).toEqual([]);
  expect((await standOfScope(SCOPE)).stand.phase).toBe("none");
});

test("a step saved here counts at once, without a network", async () => {
  await step("scope.received", { place: "Sink 1", procedure_end: "2026-11-25T11:40:00.000Z", pre_clean: "yes" });
  const { stand } = await standOfScope(SCOPE);
  expect([stand.phase, stand.received?.pre_clean, stand.delay?.from_ms]).toEqual(["received", "yes", NOON - 20 * 60_000]);
});

test("what another tablet did and what this one did since are one cycle", async () => {
  await carried([PROCESSED]);
  await step("scope.hung", { place: "Cabinet 1" });
  const { stand, recorded } = await standOfScope(SCOPE);
  expect([stand.phase, stand.disinfected?.cycle, stand.stored_ms]).toEqual(["hung", "3107", NOON]);
  expect([...recorded].sort()).toEqual(["hung", "processed"]);
});

test("an entry that the cards carry too is one event", async () => {
  const { hash, chain, seq } = await step("scope.processed", { place: "Clean side", machine: "W-2" });
  await carried([{ entry: hash, what: "processed", at_ms: NOON, chain, seq, machine: "W-2" }]);
  expect((await standOfScope(SCOPE)).stand.disinfected?.entry).toBe(hash);
});

test("what was taken back here is gone at once, also where the cards still have it", async () => {
  const { hash, chain, seq } = await step("scope.processed");
  await carried([{ entry: hash, what: "processed", at_ms: NOON, chain, seq }]);
  await append(withdrawn(hash));
  expect((await standOfScope(SCOPE)).stand.phase).toBe("none");
});

test("a correction counts in the place of what it corrects", async () => {
  const { hash } = await step("scope.hung", { place: "Cabinet 1" });
  await append({ kind: "entry.corrected", by: ILA, about: { scope: SCOPE }, body: { entry: hash, builds_on: hash, body: { place: "Cabinet 2" } } });
  expect((await standOfScope(SCOPE)).stand.last?.place).toBe("Cabinet 2");
});

test("another scope's steps say nothing of this one", async () => {
  await step("scope.hung", { place: "Cabinet 1" }, OTHER);
  expect((await standOfScope(SCOPE)).stand.phase).toBe("none");
  expect((await standOfScope(OTHER)).stand.phase).toBe("hung");
});

test("a clock that is an hour ahead moves nothing: moments and now are the server's", async () => {
  await putMeta("clock", { ahead_ms: HOUR, checked_at: "2026-11-25T12:00:00.000Z" });
  await carried([PROCESSED]);
  const { stand, nowMs } = await standOfScope(SCOPE);
  expect([nowMs, nowMs - (stand.out_ms ?? 0)]).toEqual([NOON - HOUR, HOUR]);
  await step("scope.hung", { place: "Cabinet 1" });
  expect((await standOfScope(SCOPE)).stand.stored_ms).toBe(NOON - HOUR);
});

test("a clock set back to another year leaves the order of this tablet's own steps", async () => {
  await step("scope.processed");
  ms = Date.parse("2001-01-01T00:00:00.000Z");
  await step("scope.hung", { place: "Cabinet 1" });
  ms = NOON + HOUR;
  expect((await standOfScope(SCOPE)).stand.phase).toBe("hung");
});

test("a concluded look counts, one that is open does not", async () => {
  const { hash } = await append(begun(catalogue, "at_leak_test"));
  expect((await standOfScope(SCOPE)).stand.phase).toBe("none");
  await append(serial(hash, await photo("serial")));
  const left = catalogueFile.kinds.colonoscope.points.at_leak_test.parts.map((part) => ({ part, reason: "held_at_once" }));
  const counts = { not_looked: 0, nothing_found: 0, finding: 0, could_not_look: 0, not_due: 0, none_here: 0 };
  const body = { first: "nothing", goes: "hold", suggested_first: "nothing", suggested_goes: "on", rows: [], counts, left } as const;
  await append({ kind: "inspection.concluded", by: ILA, about: { scope: SCOPE, inspection: hash }, body });
  const { stand } = await standOfScope(SCOPE);
  expect([stand.phase, stand.last?.goes]).toEqual(["at_leak_test", "hold"]);
});

test("where scopes hung last is offered first, each place once", async () => {
  for (const place of ["Cabinet 1", "Cabinet 2", "Cabinet 1"]) {
    ms += 60_000;
    await step("scope.hung", { place });
  }
  expect((await standsHere()).places).toEqual(["Cabinet 1", "Cabinet 2"]);
});

test("a whole answer of the server replaces what was carried", async () => {
  await carried([PROCESSED], OTHER);
  const answer = { epoch: { n: 1, id: "one" }, position: 7, whole: true, people: [], scopes: [], holds: [], open: [], stations: [], cycle: [{ scope: SCOPE, events: [PROCESSED] }] };
  const headers = { "content-type": "application/json", "x-loupebook": "1" };
  configureRecord({ fetch: () => Promise.resolve(new Response(JSON.stringify(answer), { headers })) });
  expect(await fetchCards()).toBe(true);
  expect((await standsHere()).stands.map(({ scope }) => scope)).toEqual([SCOPE]);
});
