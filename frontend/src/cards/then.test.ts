import "fake-indexeddb/auto";
import { beforeEach, expect, test } from "vitest";
import { configureRecord } from "../record/setting";
import { write } from "../record/store";
import { newTablet } from "../record/testing";
import { fetchThen, lastPhotoOf, thenPhotosOf, wantedOf } from "./then";

const SCOPE = "mms:alder|a180|4410221";
const PARTS = ["a", "b", "c", "d", "e", "f"].map((part, nth) => ({
  part, mark: "nothing_found", when_ms: nth, photo: { sha256: part.repeat(64), when_ms: nth },
}));
const name = (part: string): string => part.repeat(64);

let asked: string[] = [];

/** A server that answers each photo by its first letter. */
function serve(answer: (letter: string) => Response): void {
  asked = [];
  configureRecord({
    fetch: (input) => {
      const letter = new URL(String(input), "http://127.0.0.1/").pathname.split("/").at(-1)?.[0] ?? "";
      asked.push(letter);
      return Promise.resolve(answer(letter));
    },
  });
}

const OURS = { "X-Loupebook": "1" };
const picture = (): Response => new Response(new Uint8Array([1, 2, 3]), { headers: { ...OURS, "Content-Type": "image/jpeg" } });
const later = (): Response => new Response(JSON.stringify({ state: "not_here_yet" }), { status: 202, headers: OURS });

beforeEach(async () => {
  await newTablet("{}");
  await write(["cards"], (tx) => tx.objectStore("cards").put({ table: "scopes", id: SCOPE, words: [], row: { scope: SCOPE, parts: PARTS } }));
});

test("photos whose bytes the server still waits for hold up no other", async () => {
  serve((letter) => (letter < "e" ? later() : picture()));
  await fetchThen();
  expect(asked.toSorted()).toEqual(["a", "b", "c", "d", "e", "f"]);
  expect((await lastPhotoOf(SCOPE, "f"))?.bytes?.size).toBe(3);
  expect(await lastPhotoOf(SCOPE, "a")).toMatchObject({ sha256: name("a"), bytes: undefined });
  serve(picture);
  await fetchThen();
  expect(asked.toSorted()).toEqual(["a", "b", "c", "d"]);
});

test("without an answer of ours it stops after the first few", async () => {
  serve(() => new Response("<h1>Sign in to the guest network</h1>", { headers: { "Content-Type": "text/html" } }));
  await fetchThen();
  expect(asked).toHaveLength(4);
});

test("of a part the photos of last time, of acceptance and the first are kept, each once, and said to be missing where they are", async () => {
  const photo = (letter: string): { sha256: string; type: string; bytes: number; when_ms: number } => ({ sha256: name(letter), type: "image/jpeg", bytes: 3, when_ms: 1 });
  const parts = [{ part: "lens", mark: "nothing_found", looked_ms: 1, photo: photo("a"), acceptance: photo("b"), first: photo("b") }];
  await write(["cards"], (tx) => tx.objectStore("cards").put({ table: "scopes", id: SCOPE, words: [], row: { scope: SCOPE, parts } }));
  serve((letter) => (letter === "b" ? later() : picture()));
  await fetchThen();
  expect((await thenPhotosOf(SCOPE, "lens")).map(({ id, bytes }) => [id, bytes?.size])).toEqual([["last", 3], ["acceptance", undefined]]);
});

test("where there is no room for all, serial photos and those of last time come before acceptances and first ones", () => {
  const photo = (sha256: string) => ({ sha256, type: "image/jpeg", bytes: 1, when_ms: 1 });
  const card = (nth: number) => ({
    scope: `s${nth}`, scope_kind: "colonoscope", serial: "1", codes: [], serial_photo: { photo: `serial${nth}`, where: null, at: "" },
    parts: [{ part: "lens", mark: null, looked_ms: 1, photo: photo(`last${nth}`), acceptance: photo(`accepted${nth}`), first: photo(`first${nth}`) }],
  });
  expect(wantedOf([card(1), card(2)], 5)).toEqual(["serial1", "serial2", "last1", "last2", "accepted1"]);
});
