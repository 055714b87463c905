/**
 * Each fault of a keyboard reader by the keys it presses. That readers type as on a US keyboard and send the GS1
 * separator as Ctrl+]: common practice, no source. AIM identifiers: ISO/IEC 15424. Other layouts' signs: from memory.
 */
// capability: sink, breadth
import { expect, test } from "vitest";
import { readCode } from "../rules/codes";
import { judge, SampleTaker, shown, speedOf, type FaultId, type Sample, type TestKey } from "./reader-test";
import { TEST_LOT, TEST_ROWS, TEST_SERIAL, TEST_TEXT } from "./test-code";

type Loose = Partial<TestKey> & { readonly key: string };
const GS = "\x1d";

function keysOf(text: string, gap = 9, more: Partial<TestKey> = {}): TestKey[] {
  return [...text].map((sign, n) => press({ key: sign, ...(sign === GS ? { key: "]", code: "BracketRight", ctrl: true } : {}), at: n * gap, ...more }));
}
function press(key: Loose): TestKey {
  return { code: "", at: 0, up: false, ctrl: false, alt: false, meta: false, repeat: false, composing: false, ...key };
}
function sampleOf(keys: readonly TestKey[], end: "Enter" | "Tab" | null = "Enter"): Sample {
  const taker = new SampleTaker();
  for (const key of keys) expect(taker.press(key)).toBeNull();
  const last = keys.at(-1)?.at ?? 0;
  const sample = end === null ? taker.silence(last + 1_000) : taker.press(press({ key: end, at: last + 9 }));
  if (sample === null) throw new Error("no sample");
  return sample;
}
const idsOf = (text: string): FaultId[] => judge(sampleOf(keysOf(text))).faults.map((each) => each.id);

test("a reader that is set as it should be has no fault", () => {
  const judged = judge(sampleOf(keysOf(`]d2${TEST_TEXT}`)));
  expect(judged).toEqual({ known: true, aim: "]d2", separator: "sent", faults: [] });
});

const US_TO_DE: Readonly<Record<string, string>> = { y: "z", z: "y", Y: "Z", Z: "Y", "-": "ß", _: "?", "/": "-", "]": "+" };
const onGerman = (text: string): string => [...text].map((sign) => US_TO_DE[sign] ?? sign).join("");

test.each<[string, string, FaultId[]]>([
  ["no AIM identifier", TEST_TEXT, ["no_aim"]],
  ["the separator left out", `]d2${TEST_TEXT.replace(GS, "")}`, ["gs_missing"]],
  ["the separator written out", `]d2${TEST_TEXT.replace(GS, "<GS>")}`, ["gs_written"]],
  ["the separator as another sign", `]d2${TEST_TEXT.replace(GS, "|")}`, ["gs_other"]],
  ["signs before the code", `*]d2${TEST_TEXT}`, ["prefix"]],
  ["signs after the code", `]d2${TEST_TEXT}#`, ["suffix"]],
  ["letters swapped by Caps Lock", `]D2015102222223333610zY-aQ_7${GS}21lb/Wm5`, ["caps"]],
  ["all letters as capitals", `]D2015102222223333610ZY-AQ_7${GS}21LB/WM5`, ["upper"]],
  ["all letters small", `]d2015102222223333610zy-aq_7${GS}21lb/wm5`, ["lower"]],
  ["a German keyboard", onGerman(`]d2${TEST_TEXT}`), ["qwertz"]],
  ["a German keyboard without an AIM identifier", onGerman(TEST_TEXT), ["qwertz", "no_aim"]],
  ["a French keyboard", `à&(&àéééééé""""-&àWy)Qa°è${GS}é&LB!z?(`, ["azerty", "no_aim"]],
  ["another keyboard", `]d2${TEST_TEXT.replace("/", "é").replace("_", "è")}`, ["other_layout"]],
  ["characters missing", `]d2${TEST_TEXT.replace("22222", "222").replace("M", "")}`, ["lost"]],
])("%s is named", (_, text, faults) => {
  expect(idsOf(text)).toEqual(faults);
});

test("gaps and the end are told from the keys", () => {
  const slow = sampleOf(keysOf(`]d2${TEST_TEXT}`, 80), null);
  expect(judge(slow).faults).toEqual([{ id: "too_slow", advice: false, ms: 80 }, { id: "no_end", advice: false }]);
  expect(speedOf(sampleOf(keysOf(TEST_TEXT, 7)))).toEqual({ usual: 7, most: 7 });
  expect(sampleOf(keysOf(TEST_TEXT), "Tab").end).toBe("tab");
});

test("the separator is the key, whatever it says on this keyboard", () => {
  const keys = keysOf(`]d2${TEST_TEXT}`).map((key) => (key.ctrl ? { ...key, key: "+" } : key));
  expect(judge(sampleOf(keys)).separator).toBe("sent");
});

test("a reader that sends numbers on the number pad is understood", () => {
  const keys = [...`]d2${TEST_TEXT}`].flatMap((sign, n) => [
    ...[...String(sign.charCodeAt(0)).padStart(4, "0")].map((digit) => press({ key: digit, code: `Numpad${digit}`, alt: true, at: n * 12 })),
    press({ key: "Alt", up: true, at: n * 12 }),
  ]);
  expect(judge(sampleOf(keys)).faults).toEqual([]);
});

test("any other code is judged by its own rules, and that it is not the test code is known", () => {
  const missing = judge(sampleOf(keysOf("015102222223333610A213B1211234"))); // trap B: the separator left out
  expect(missing).toMatchObject({ known: false, separator: "missing", aim: null });
  expect(missing.faults.map((each) => each.id)).toEqual(["gs_missing", "no_aim"]);
  const locked = judge(sampleOf(keysOf("c-14 sink", 9, { caps: true })));
  expect(locked.faults.map((each) => each.id)).toEqual(["caps", "no_aim"]);
});

test("a browser that does not say the keys is named, and typing by hand is no sample", () => {
  const taker = new SampleTaker();
  for (let n = 0; n < 8; n += 1) taker.press(press({ key: "Unidentified", at: n * 10 }));
  const unnamed = taker.silence(2_000);
  expect(unnamed === null ? null : judge(unnamed).faults.map((each) => each.id)).toEqual(["unnamed", "no_end"]);
  for (const key of keysOf("C-14", 200)) taker.press(key);
  expect(taker.silence(5_000)).toBeNull();
});

test("the test code reads as what it says, and its separator can be seen", () => {
  expect(readCode(TEST_TEXT, "]d2", 2026)).toMatchObject({ form: "gs1", lot: TEST_LOT, serial: TEST_SERIAL, check: "good", notes: [] });
  expect(shown(TEST_TEXT)).toContain(`${TEST_LOT}[GS]21`);
  expect(TEST_ROWS.every((row) => row.length === TEST_ROWS.length)).toBe(true);
});
