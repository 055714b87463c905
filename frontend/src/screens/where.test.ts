import { expect, test } from "vitest";
import { HOME, hashOf, whereOf, type Where } from "./where";

const PLACES: readonly Where[] = [
  HOME,
  { screen: "register", text: "]d201510222222333362127<&#/" },
  { screen: "serial", scope: "mms:ALDER|C2|27 41" },
  { screen: "route", begun: "ab", part: "tube_2" },
  { screen: "photo", begun: "ab", part: "lens", back: "finding" },
];

test("a place comes back from its hash as it was", () => {
  for (const place of PLACES) expect(whereOf(hashOf(place))).toEqual(place);
});

test("what is not understood, or lacks a value, is home", () => {
  for (const hash of ["", "#", "#/", "#/nowhere", "#/route", "#/photo?begun=ab&part=lens", "#/__proto__?x=1"]) {
    expect(whereOf(hash)).toEqual(HOME);
  }
});
