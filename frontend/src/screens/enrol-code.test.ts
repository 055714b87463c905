// capability: breadth
import { expect, test } from "vitest";
import { enrolCode, takeCodeFromAddress } from "./enrol-code";

const CODE = "7K2M-QX4T-93AB";

test("the code is read from our label and from the link of its QR code", () => {
  expect(enrolCode(`LB1:E:https://harrow.local:8643|${CODE}`)).toBe(CODE);
  expect(enrolCode(`https://harrow.local:8643/#/enrol?code=${CODE}`)).toBe(CODE);
});

test("any other text has none", () => {
  const others = ["", CODE, "LB1:E:https://harrow.local", "LB1:E:https://harrow.local|", "LB1:S:C-14", "https://harrow.local/#/enrol", "https://harrow.local/#/enrol?code="];
  for (const text of others) expect(enrolCode(text)).toBeUndefined();
});

function page(hash: string): { location: Location; history: History; left: string[] } {
  const left: string[] = [];
  const history = { replaceState: (_: unknown, __: string, to: string) => left.push(to) } as unknown as History;
  return { location: { hash } as Location, history, left };
}

test("the code is taken out of the address by what reads it", () => {
  const opened = page(`#/enrol?code=${CODE}`);
  expect(takeCodeFromAddress(opened)).toBe(CODE);
  expect(opened.left).toEqual(["#/home"]);
});

test("an address without a code is left alone", () => {
  const opened = page("#/serial?scope=x");
  expect(takeCodeFromAddress(opened)).toBeUndefined();
  expect(opened.left).toEqual([]);
});
