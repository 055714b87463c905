import "fake-indexeddb/auto";
import { beforeEach, expect, test } from "vitest";
import catalogue from "../../../shared/catalogue/catalogue.json";
import { append } from "./append";
import { goOn, missingOf, noteStore, serverHas } from "./lost";
import { meta } from "./meta";
import { keepReceipts } from "./outbox";
import { said } from "./said";
import { configureRecord } from "./setting";
import { deleteStore, write } from "./store";
import { begun, newTablet, photo, readNow, SCOPE, serial } from "./testing";

const notes = new Map<string, string>();
Object.assign(globalThis, {
  localStorage: { getItem: (key: string) => notes.get(key) ?? null, setItem: (key: string, text: string) => void notes.set(key, text), removeItem: (key: string) => void notes.delete(key) },
  sessionStorage: { getItem: () => null },
});
const EPOCH = { n: 1, id: "one" };

let tablet: Awaited<ReturnType<typeof newTablet>>;
beforeEach(async () => {
  notes.clear();
  tablet = await newTablet(JSON.stringify(catalogue));
  await noteStore();
});

async function saveTwo(): Promise<void> {
  const start = await append(begun(tablet.catalogue));
  await append(serial(start.hash, await photo("serial")));
}

/** The server has so many entries of the chain and takes a new one. */
function serve(seq: number): string[] {
  const asked: string[] = [];
  configureRecord({
    fetch: async (input, init) => {
      const path = String(input);
      asked.push(`${path} ${typeof init?.body === "string" ? init.body : ""}`);
      const headers = { "content-type": "application/json", "x-loupebook": "1" };
      if (path !== "/door/chain") return new Response(JSON.stringify({ epoch: EPOCH, seq, hash: "a".repeat(64), backed_up_seq: 0 }), { headers });
      const made = await meta("pending_chain");
      return new Response(JSON.stringify({ chain: made?.chain }), { status: 201, headers });
    },
  });
  return asked;
}

test("what is saved is noted outside the store, and leaves the note with its receipt", async () => {
  await saveTwo();
  expect(said()).toMatchObject({ station: "sink-1", chain: tablet.chain, seq: 2 });
  expect(said()?.unsent.map(({ seq, kind, scope }) => [seq, kind, scope])).toEqual([[1, "inspection.begun", SCOPE], [2, "serial.photographed", SCOPE]]);
  await keepReceipts(tablet.chain, { epoch: EPOCH, seq: 1, hash: "", receipts: [{ seq: 1, hash: "x", state: "stored", verdict: "counted" }], wanted: [], forked: false });
  expect(said()?.unsent.map(({ seq }) => seq)).toEqual([2]);
  expect((await readNow()).lost).toBeUndefined();
});

test("a store that came back empty is told, with what neither it nor the server has", async () => {
  await saveTwo();
  await deleteStore();
  const { lost, enrolled } = await readNow();
  expect(enrolled).toBe(false);
  expect(lost).toMatchObject({ chain: tablet.chain, seq: 2, here: 0 });
  serve(1);
  expect(missingOf(lost!, await serverHas(lost!))).toMatchObject({ from: 2, to: 2, entries: [{ seq: 2, kind: "serial.photographed" }] });
  serve(2);
  expect(missingOf(lost!, await serverHas(lost!))).toBeUndefined();
});

test("it goes on as the same station in a new chain that names the old one's head", async () => {
  await saveTwo();
  await deleteStore();
  const { lost } = await readNow();
  const asked = serve(1);
  await goOn(lost!);
  const sent = JSON.parse(asked.at(-1)!.replace("/door/chain ", "")) as { old: unknown; why: string };
  expect(sent).toMatchObject({ old: { chain: tablet.chain, seq: 1, hash: "a".repeat(64) }, why: "wiped" });
  const now = await readNow();
  expect(now).toMatchObject({ enrolled: true, lost: undefined, head: { seq: 0 } });
  expect(now.chain).not.toBe(tablet.chain);
  expect(said()).toMatchObject({ chain: now.chain, seq: 0, unsent: [] });
});

test("a store that lost its end is told too, and no place of the chain is written twice", async () => {
  await saveTwo();
  await write(["meta", "entries"], async (tx) => {
    const first = await tx.objectStore("entries").get([tablet.chain, 1]);
    await tx.objectStore("entries").delete([tablet.chain, 2]);
    await tx.objectStore("meta").put({ seq: 1, hash: first?.hash ?? "" }, "head");
  });
  await noteStore();
  const { lost } = await readNow();
  expect(lost).toMatchObject({ seq: 2, here: 1 });
  const asked = serve(0);
  await goOn(lost!);
  expect(asked.at(-1)).toContain('"why":"rolled_back"');
  const now = await readNow();
  expect(now.lost).toBeUndefined();
  expect(now.unsent, "what is still here of the old chain is sent as it is").toBe(1);
});
