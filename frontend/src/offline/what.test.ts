import { describe, expect, test, vi } from "vitest";

vi.stubGlobal("__BUILD__", "b3");
vi.stubGlobal("__KEPT__", []);
const { answeredBy, storesToRemove } = await import("./what");

const ORIGIN = "http://127.0.0.1:8600";
const KEPT = [{ url: "/", integrity: "" }, { url: "/mark.svg", integrity: "" }];
const asked = (path: string, method = "GET") => answeredBy(method, new URL(path, ORIGIN), ORIGIN, KEPT);

describe("what the worker answers", () => {
  test("the first page, with whatever stands behind its #", () => {
    expect(asked("/#/inspections/5")).toBe("/");
    expect(asked("/?from=home")).toBe("/");
  });

  test("kept files, and hashed files of an older build", () => {
    expect(asked("/mark.svg")).toBe("/mark.svg");
    expect(asked("/assets/old-1a2b.js")).toBe("/assets/old-1a2b.js");
  });

  test.each(["/chains/ab/head", "/photos/ab", "/cards?since=1", "/door/me", "/lead/today", "/people", "/health"])(
    "%s goes to the server",
    (path) => expect(asked(path)).toBeUndefined(),
  );

  test("writes and other origins are left alone", () => {
    expect(asked("/", "POST")).toBeUndefined();
    expect(answeredBy("GET", new URL("http://127.0.0.1:9000/"), ORIGIN, KEPT)).toBeUndefined();
  });
});

describe("which stores go", () => {
  test("all but the one in use and the newest before it", () => {
    expect(storesToRemove(["loupebook-b1", "loupebook-b2", "loupebook-b3"], "b3")).toEqual(["loupebook-b1"]);
  });

  test("never a store that is not a build's", () => {
    expect(storesToRemove(["other", "loupebook-b2", "loupebook-b3"], "b3")).toEqual([]);
  });
});
