import { describe, expect, test } from "vitest";
import { ask, Trouble } from "./ask";

const OURS = { "x-loupebook": "1", "content-type": "application/json" };
const answering = (body: string, status = 200, headers: Record<string, string> = OURS) =>
  (_path: string, _how: RequestInit) => Promise.resolve(new Response(body, { status, headers }));
const codeOf = async (asked: Promise<unknown>): Promise<string> => {
  const cause: unknown = await asked.then(() => undefined, (reason: unknown) => reason);
  return cause instanceof Trouble ? `${cause.status} ${cause.code}` : "went through";
};

describe("only an answer of ours counts", () => {
  test("ours goes through", async () => {
    expect(await ask("/lead/aside", undefined, answering('{"position": 7}'))).toEqual({ position: 7 });
  });

  test("a page of the network's own, another type, a cut answer, a refusal without words, and silence are no answer", async () => {
    const strangers = [
      answering("<html>Sign in to the hotel</html>", 200, { "content-type": "text/html" }),
      answering('{"position": 7}', 200, { "content-type": "application/json" }),
      answering('{"position": 7}', 200, { ...OURS, "content-type": "text/plain" }),
      answering('{"position": ', 200),
      answering("{}", 502),
      answering('{"trouble": {"code": "x"}}', 422),
      () => Promise.reject(new TypeError("failed to fetch")),
    ];
    for (const fetch of strangers) expect(await codeOf(ask("/lead/aside", undefined, fetch))).toBe("0 no_answer");
  });

  test("the server's refusal keeps its own words and status", async () => {
    const words = { code: "prove_again", so: "a", safe: "b", next: "c" };
    expect(await codeOf(ask("/x", {}, answering(JSON.stringify({ trouble: words }), 401)))).toBe("401 prove_again");
  });
});

test("what is posted carries our header and nothing of another origin", async () => {
  const seen: RequestInit[] = [];
  await ask("/lead/commands/aside.settled", { a: 1 }, (_path, how) => {
    seen.push(how);
    return Promise.resolve(new Response("{}", { headers: OURS }));
  });
  expect(seen[0]).toMatchObject({
    method: "POST", body: '{"a":1}', credentials: "same-origin", redirect: "error", cache: "no-store",
    headers: { "X-Loupebook": "1", "Content-Type": "application/json" },
  });
});
