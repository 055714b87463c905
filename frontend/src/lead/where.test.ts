import { expect, test } from "vitest";
import { hashOf, whereOf, type Where } from "./where";

const ROOT = "0123456789abcdef".repeat(4);

test("every place comes back from its address", () => {
  const places: Where[] = [
    { screen: "today" }, { screen: "today", shift: "Harrow Lake/2026-11-25/day" }, { screen: "inspection", root: ROOT }, { screen: "inspection", root: ROOT, photo: ROOT }, { screen: "hold", hold: ROOT }, { screen: "aside" }, { screen: "stations" }, { screen: "people" }, { screen: "policy" }, { screen: "examples" }, { screen: "codes" }, { screen: "facility" }, { screen: "help" }, { screen: "help", about: "policy" },
    { screen: "scopes" }, { screen: "scope", key: "udi:51022222233336/27 4/1|&=?#" }, { screen: "bring", what: "people" }, { screen: "find" }, { screen: "find", words: "C-14", finding: "film", since: "2026-11-01" }, { screen: "history", key: "udi:5/2 7" },
  ];
  for (const place of places) expect(whereOf(hashOf(place))).toEqual(place);
});

test("an address that is not understood is the list of today", () => {
  for (const hash of ["", "#/desk/", "#/desk/inspection", "#/desk/inspection?root=..%2F..", "#/desk/hold", "#/desk/hold?hold=x", "#/desk/nothing", "#/desk/aside/more", "#/desk/scope", "#/desk/bring?what=stations", "#/desk/today?shift=", `#/desk/today?shift=${"x".repeat(201)}`]) {
    expect(whereOf(hash)).toEqual({ screen: "today" });
  }
});
