import "fake-indexeddb/auto";
import { beforeEach, expect, test } from "vitest";
import catalogue from "../../../shared/catalogue/catalogue.json";
import { append } from "./append";
import { hashLine } from "./hash";
import { meta } from "./meta";
import { sendRound } from "./send-round";
import { LONGEST_WAIT_MS, waitMs } from "./sender";
import { configureRecord } from "./setting";
import { write } from "./store";
import { begun, newTablet, readNow } from "./testing";
import { isPlainTab } from "./where";
import { NoAnswer, ours } from "./wire";

const EPOCH = { n: 1, id: "one" };

let tablet: Awaited<ReturnType<typeof newTablet>>;
beforeEach(async () => {
  tablet = await newTablet(JSON.stringify(catalogue));
});

function reply(json: object, status = 200, headers: Record<string, string> = {}): Response {
  return new Response(JSON.stringify(json), {
    status, headers: { "content-type": "application/json", "x-loupebook": "1", ...headers },
  });
}

type Serve = (path: string, body: string) => Response | Promise<Response>;

function serve(answer: Serve): void {
  configureRecord({
    fetch: async (input, init) => answer(String(input), init?.body === undefined ? "" : await new Response(init.body as BodyInit).text()),
  });
}

const head = (): Response => reply({ epoch: EPOCH, seq: 0, hash: tablet.chain, backed_up_seq: 0 });

test("waits grow to a minute and never fall in step", () => {
  expect([1, 2, 3, 4].map((failures) => waitMs(failures, 1))).toEqual([1000, 2000, 4000, 8000]);
  expect(waitMs(30, 1)).toBe(LONGEST_WAIT_MS);
  expect(waitMs(30, 0)).toBe(LONGEST_WAIT_MS / 2);
});

test.each([
  ["no header of ours", null, "application/json", "{}"],
  ["a page", "1", "text/html", "<p>"],
  ["cut JSON", "1", "application/json", '{"seq":'],
  ["a list", "1", "application/json", "[]"],
])("%s is no answer", (_, header, type, text) => {
  expect(() => ours(header, type, text)).toThrow(NoAnswer);
});

test("a receipt that repeats another hash takes nothing out", async () => {
  await append(begun(tablet.catalogue));
  const receipts = [{ seq: 1, hash: "0".repeat(64), state: "stored", verdict: "counted" }];
  serve((path) => (path.endsWith("/head") ? head() : reply({ epoch: EPOCH, seq: 1, hash: "0".repeat(64), receipts, wanted: [] })));
  await expect(sendRound(() => undefined)).rejects.toThrow(NoAnswer);
  expect((await readNow()).unsent).toBe(1);
});

test("a batch answered in part is sent on from where the receipts end", async () => {
  for (let at = 0; at < 3; at += 1) await append(begun(tablet.catalogue));
  const asked: string[] = [];
  serve((path, body) => {
    if (path.endsWith("/head")) return head();
    asked.push(path.split("from=")[1] ?? "");
    const first = Number(asked.at(-1));
    const line = body.split("\n")[0] ?? "";
    const hash = hashLine(new TextEncoder().encode(line));
    return reply({ epoch: EPOCH, seq: first, hash, receipts: [{ seq: first, hash, state: "stored", verdict: "counted" }], wanted: [] });
  });
  await sendRound(() => undefined);
  expect(asked).toEqual(["1", "2", "3"]);
  expect((await readNow()).unsent).toBe(0);
});

test("a line whose bytes rotted takes its place as it is, is told as put aside, and holds up nothing", async () => {
  for (let at = 0; at < 3; at += 1) await append(begun(tablet.catalogue));
  await write(["entries"], async (tx) => {
    const row = await tx.objectStore("entries").get([tablet.chain, 2]);
    const line = new Uint8Array(row?.line ?? []);
    line[0] = 48;
    if (row !== undefined) await tx.objectStore("entries").put({ ...row, line });
  });
  const signed: string[] = [];
  serve((path, body) => {
    if (path.endsWith("/head")) return head();
    const [tail, ...lines] = body.trimEnd().split("\n").reverse();
    const hashes = lines.reverse().map((line) => hashLine(new TextEncoder().encode(line)));
    signed.push((JSON.parse(tail ?? "{}") as { head: { hash: string } }).head.hash, hashes.at(-1) ?? "");
    const verdicts = [{ verdict: "counted" }, { verdict: "aside", reason: "unparseable" }, { verdict: "aside", reason: "broken_link" }];
    const receipts = hashes.map((hash, at) => ({ seq: at + 1, hash, state: "stored", ...verdicts[at] }));
    return reply({ epoch: EPOCH, seq: 3, hash: hashes.at(-1), receipts, wanted: [] });
  });
  await sendRound(() => undefined);
  const now = await readNow();
  expect(signed[0]).toBe(signed[1]);
  expect([now.unsent, now.aside.map(({ seq, reason }) => [seq, reason])]).toEqual([0, [[2, "unparseable"], [3, "broken_link"]]]);
});

test("a server that does not know the station keeps everything here and says so", async () => {
  await append(begun(tablet.catalogue));
  serve(() => reply({ trouble: { code: "no_station", so: "", safe: "", next: "" } }, 401));
  expect(await sendRound(() => undefined)).toEqual({ stopped: "not_known" });
  expect((await readNow()).unsent).toBe(1);
});

test("a withdrawn station sees no head and still sends", async () => {
  const saved = await append(begun(tablet.catalogue));
  serve((path) => {
    if (path.endsWith("/head")) return reply({ trouble: { code: "station_withdrawn", so: "", safe: "", next: "" } }, 403);
    const receipts = [{ seq: 1, hash: saved.hash, state: "stored", verdict: "aside", reason: "station_revoked" }];
    return reply({ epoch: EPOCH, seq: 1, hash: saved.hash, receipts, wanted: [] });
  });
  expect(await sendRound(() => undefined)).toEqual({ stopped: "withdrawn" });
  const now = await readNow();
  expect([now.unsent, now.aside.map((entry) => entry.reason)]).toEqual([0, ["station_revoked"]]);
});

test("the clock's distance is taken from the server's Date and written into the next entry", async () => {
  const date = new Date(Date.now() - 3_600_000).toUTCString();
  serve(() => reply({ epoch: EPOCH, seq: 0, hash: tablet.chain, backed_up_seq: 0 }, 200, { date }));
  await sendRound(() => undefined);
  const { ahead_ms } = (await meta("clock")) ?? { ahead_ms: 0 };
  expect(Math.abs(ahead_ms - 3_600_000)).toBeLessThan(1500);
});

test("only a plain tab of an iPad is refused", () => {
  const pad = { userAgent: "Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15", platform: "MacIntel", touchPoints: 5 };
  expect(isPlainTab({ ...pad, standalone: false })).toBe(true);
  expect(isPlainTab({ ...pad, standalone: true })).toBe(false);
  expect(isPlainTab({ ...pad, touchPoints: 0, standalone: false })).toBe(false);
  expect(isPlainTab({ userAgent: "Mozilla/5.0 (X11; Linux x86_64) Chrome/156", platform: "Linux x86_64", touchPoints: 10, standalone: false })).toBe(false);
});
