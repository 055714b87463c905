// capability: repair
import "fake-indexeddb/auto";
import { beforeEach, expect, test } from "vitest";
import { append } from "../record/append";
import { write } from "../record/store";
import { ILA, newTablet, SCOPE } from "../record/testing";
import { custodyHere } from "./custody";
import { repairHere } from "./repair";

/** Words may be taken back in their own chain alone (`target: own`): a screen offers it nowhere else. */

const ELSEWHERE = "ab".repeat(32);
const cards = (table: string, row: object): Promise<unknown> =>
  write(["cards"], (tx) => tx.objectStore("cards").put({ table, id: SCOPE, words: [], row: { scope: SCOPE, counted: [ELSEWHERE.slice(0, 16)], ...row } }));

beforeEach(() => newTablet("{}"));

test("an offer of the same person that another tablet wrote is not this tablet's to take back", async () => {
  const offer = { entry: ELSEWHERE, what: "offered", basis: "", person: ILA.person, at_ms: 1, holder: { kind: "house", name: "" }, over: [] };
  await cards("custody", { events: [offer] });
  expect(await custodyHere(SCOPE)).toMatchObject({ custody: { state: "offered", tips: [ELSEWHERE] }, own: false });
  await newTablet("{}");
  const { hash } = await append({ kind: "custody.offered", by: ILA, about: { scope: SCOPE }, body: { place: "Dock" } });
  expect(await custodyHere(SCOPE)).toMatchObject({ custody: { state: "offered", tips: [hash] }, own: true });
});

test("an ask for repair that another tablet wrote is not this tablet's to take back", async () => {
  const asked = { entry: ELSEWHERE, what: "asked", person: ILA.person, at_ms: 1, repair: "", basis: "", over: [], undone: false, said: { words: "it lags" }, photos: 0, inspections: [], case: [] };
  await cards("repairs", { serial_photo: false, events: [asked] });
  const { hash } = await append({ kind: "repair.asked", by: ILA, about: { scope: SCOPE }, body: { words: "it lags here too", inspections: [] } });
  const here = await repairHere(SCOPE);
  expect([here?.repair.openers.toSorted(), [...(here?.own ?? [])]]).toEqual([[ELSEWHERE, hash].toSorted(), [hash]]);
});
