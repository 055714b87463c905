import "fake-indexeddb/auto";
import { beforeEach, expect, test, vi } from "vitest";
import { tell } from "../record/changed";
import { sha256Text } from "../record/hash";
import { configureRecord } from "../record/setting";
import { newTablet } from "../record/testing";
import { cardsAt } from "./at";
import { fetchCards, startCards } from "./fetch";
import { keepLocalScope } from "./local";
import { findScope, holdsOf, people, scopesByName, stations } from "./look";
import { catalogueNow } from "./pinned";
import type { CardsAt } from "./rows";

const SCOPE = {
  scope: "mms:alder|a180|4410221", on_record: "described", kind: "colonoscope", serial: "441-0221", di: "09506000134352",
  maker: "Alder", model: "A180", tag: "C-14", codes: ["0109506000134352214410221"], near: true,
};
const TWIN = { ...SCOPE, scope: "mms:alder|b90|4410221", kind: "gastroscope", model: "B90", tag: "C-15", codes: [], di: null };
const HOLD = { hold: "1".repeat(64), scope: SCOPE.scope, begun: null, cause: "placed", goes: "hold", reason: "doubt", decided: false, at: "" };
const PEOPLE = [{ id: "rin_oake", name: "Rin Oake", initials: "RO", roles: ["lead"] }, { id: "ila_venn", name: "Ila Venn", initials: "IV", roles: ["technician"] }];

let asked: string[] = [];
let at: CardsAt;
cardsAt.subscribe((value) => (at = value));

function serve(json: object, status = 200): void {
  const base = { epoch: { n: 1, id: "one" }, position: 7, whole: false, people: PEOPLE, scopes: [], holds: [], open: [], stations: [] };
  const headers = { "content-type": "application/json", "x-loupebook": "1" };
  configureRecord({
    fetch: (input) => {
      asked.push(String(input));
      return Promise.resolve(new Response(JSON.stringify({ ...base, ...json }), { status, headers }));
    },
  });
}

beforeEach(async () => {
  await newTablet("{}");
  asked = [];
});

test("a scope is found by key, code, tag, serial and device number, each said", async () => {
  serve({ whole: true, scopes: [SCOPE] });
  expect(await fetchCards()).toBe(true);
  const by = async (wanted: Parameters<typeof findScope>[0]): Promise<string | undefined> => (await findScope(wanted))[0]?.by;
  expect(await by({ key: SCOPE.scope })).toBe("key");
  expect(await by({ code: "(01)09506000134352(21)4410221" })).toBe("code");
  expect(await by({ tag: "c14" })).toBe("tag");
  expect(await by({ serial: "4410221" })).toBe("serial");
  expect(await by({ di: "09506000134352" })).toBe("di");
  expect(await by({ serial: "441" })).toBeUndefined();
  expect((await scopesByName("441")).map((scope) => scope.scope_kind)).toEqual(["colonoscope"]);
});

test("two scopes with one serial number are two candidates", async () => {
  serve({ whole: true, scopes: [SCOPE, TWIN] });
  await fetchCards();
  expect((await findScope({ serial: "4410221" })).map(({ scope }) => scope.model).sort()).toEqual(["A180", "B90"]);
});

test("the next fetch asks from the position kept, and a lifted hold is gone", async () => {
  serve({ whole: true, scopes: [SCOPE], holds: [HOLD] });
  await fetchCards();
  expect(await holdsOf(SCOPE.scope)).toHaveLength(1);
  serve({ position: 9, scopes: [SCOPE] });
  await fetchCards();
  expect(asked.map((url) => url.split("?")[1])).toEqual(["since=0", "since=7&epoch=one"]);
  expect(await holdsOf(SCOPE.scope)).toEqual([]);
  expect(at.position).toBe(9);
});

test("people and stations come whole: who is gone from the answer is gone here", async () => {
  serve({ stations: [{ id: "sink-1", name: "Sink 1", place: "sinks", side: "dirty", heard_at: null }] });
  await fetchCards();
  expect((await people()).map((person) => person.person)).toEqual(["ila_venn", "rin_oake"]);
  expect((await stations())[0]).toMatchObject({ station: "sink-1", points: ["at_leak_test", "after_cleaning", "acceptance"] });
  serve({ people: PEOPLE.slice(1) });
  await fetchCards();
  expect((await people()).map((person) => person.person)).toEqual(["ila_venn"]);
});

test("a whole answer drops what is no longer known, but not a scope registered here just now", async () => {
  serve({ whole: true, scopes: [SCOPE] });
  await fetchCards();
  await keepLocalScope("mms:alder|a1|9", { scope_kind: "colonoscope", serial: "9" });
  serve({ whole: true, scopes: [TWIN] });
  await fetchCards();
  expect(await findScope({ key: SCOPE.scope })).toEqual([]);
  expect(await findScope({ serial: "9" })).toHaveLength(1);
});

test("a text is kept under the hash it has, and one with another hash spoils the whole answer", async () => {
  const text = '{"v":1,"kinds":{}}';
  serve({ catalogue: { sha256: sha256Text(text), text } });
  expect(await fetchCards()).toBe(true);
  expect(await catalogueNow()).toEqual({ sha256: sha256Text(text), value: { v: 1, kinds: {} } });
  serve({ position: 8, catalogue: { sha256: sha256Text(text), text: null } });
  expect(await fetchCards()).toBe(true);
  expect((await catalogueNow())?.sha256).toBe(sha256Text(text));
  serve({ position: 9, catalogue: { sha256: "0".repeat(64), text } });
  expect(await fetchCards()).toBe(false);
  expect([at.position, at.stopped]).toEqual([8, "no_answer"]);
});

test("a withdrawn station is told why no cards come; what it knew stays", async () => {
  serve({ whole: true, scopes: [SCOPE] });
  await fetchCards();
  serve({ trouble: { code: "station_withdrawn", so: "", safe: "", next: "" } }, 403);
  expect(await fetchCards()).toBe(false);
  expect(at.stopped).toBe("withdrawn");
  expect(await findScope({ key: SCOPE.scope })).toHaveLength(1);
});

test("a receipt after a fetch without an answer fetches at once; one that follows an answer asks for nothing", async () => {
  vi.stubGlobal("document", Object.assign(new EventTarget(), { visibilityState: "visible" }));
  vi.stubGlobal("window", new EventTarget());
  serve({});
  await fetchCards();
  configureRecord({ fetch: () => Promise.reject(new TypeError("the server is away")) });
  const end = startCards();
  try {
    await vi.waitFor(() => expect(at.stopped).toBe("no_answer"));
    serve({ whole: true, scopes: [SCOPE] });
    tell("receipts");
    await vi.waitFor(() => expect(at.stopped).toBeUndefined());
    expect(await findScope({ key: SCOPE.scope })).toHaveLength(1);
    const before = asked.length;
    tell("receipts");
    await findScope({ key: SCOPE.scope });
    expect(asked.length).toBe(before);
  } finally {
    end();
    vi.unstubAllGlobals();
  }
});
