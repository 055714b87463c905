/**
 * Key sequences as readers send them. Forms: plain keys, Shift for capitals, Ctrl+] for the separator, Alt with the
 * number pad; gaps of 7-16 ms are those measured on public reader demos, people's are above 80 ms (common practice, no source).
 */
import { describe, expect, test } from "vitest";
import { readCode } from "../rules/codes";
import type { KeyPress, WedgeStep } from "./wedge-reader";
import { WedgeReader } from "./wedge-reader";

const UDI = "015102222223333610A213B1\x1d211234"; // public UDI sample (FDA, HL7)

type Loose = Partial<KeyPress> & { readonly key: string };

/** Keys `gap` ms apart, from `start`. */
function timed(keys: readonly Loose[], gap = 10, start = 1000): KeyPress[] {
  return keys.map((key, n) => ({
    code: "", at: start + n * gap, up: false, ctrl: false, alt: false, meta: false, repeat: false, composing: false, ...key,
  }));
}

/** The keys a reader set to a US layout sends for `text`: Shift before capitals, Ctrl+] for the separator. */
function asReader(text: string): Loose[] {
  return [...text].flatMap((c): Loose[] => {
    if (c === "\x1d") return [{ key: "Control", ctrl: true }, { key: "]", code: "BracketRight", ctrl: true }, { key: "Control", up: true }];
    return /[A-Z+$%:<>(){}|]/.test(c) ? [{ key: "Shift" }, { key: c }, { key: "Shift", up: true }] : [{ key: c }];
  });
}

/** The same in Alt mode: each character as number-pad digits while Alt is down. */
function asAltReader(text: string): Loose[] {
  return [...text].flatMap((c): Loose[] => [
    { key: "Alt", alt: true },
    ...[...String(c.charCodeAt(0)).padStart(4, "0")].map((d): Loose => ({ key: d, code: `Numpad${d}`, alt: true })),
    { key: "Alt", up: true },
  ]);
}

function run(keys: readonly KeyPress[], reader = new WedgeReader()): { codes: string[]; steps: WedgeStep[] } {
  const steps = keys.map((key) => reader.press(key));
  return { steps, codes: steps.flatMap((step) => (step.do === "code" ? [step.text] : [])) };
}

const ENTER: Loose = { key: "Enter" };

describe("a reader's burst is one code", () => {
  test.each([
    ["ended by Enter", [...asReader(UDI), ENTER]],
    ["ended by Tab", [...asReader(UDI), { key: "Tab" }]],
    ["ended by Ctrl+M", [...asReader(UDI), { key: "m", ctrl: true }]],
    ["in Alt mode", [...asAltReader(UDI), ENTER]],
    ["with the separator as a control character", [...[...UDI].map((key) => ({ key })), ENTER]],
    ["with right Alt on a German layout", [...UDI].map((key) => (key === "\x1d" ? { key: "]", ctrl: true } : { key })).concat([ENTER])],
  ])("%s", (_, keys) => {
    expect(run(timed(keys, 7)).codes).toEqual([UDI]);
  });

  test.each(["<GS>", "{GS}"])("a separator written as %s reads as the separator", (written) => {
    const { codes } = run(timed([...asReader(UDI.replace("\x1d", written)), ENTER]));
    expect(readCode(codes[0] ?? "", null, 2026)).toMatchObject({ lot: "A213B1", serial: "1234", check: "good" });
  });

  test("signs typed with right Alt come as Ctrl with Alt and are characters", () => {
    const keys = [...asReader("]d2015102")].map((key) => (key.key === "]" ? { ...key, ctrl: true, alt: true } : key));
    expect(run(timed([...keys, ENTER])).codes).toEqual(["]d2015102"]);
  });

  test("digits that need Shift on the layout are taken as the digits they are", () => {
    const keys = [..."LB1:S:774"].flatMap((key): Loose[] => [{ key: "Shift" }, { key }, { key: "Shift", up: true }]);
    expect(run(timed([...keys, ENTER])).codes).toEqual(["LB1:S:774"]);
  });

  test("silence of 80 ms ends it too, and not a millisecond sooner", () => {
    const reader = new WedgeReader();
    run(timed(asReader("2741906"), 10), reader);
    expect(reader.endsAt).toBe(1140);
    expect(reader.silence(1139)).toEqual({ do: "let_pass" });
    expect(reader.silence(1140)).toEqual({ do: "code", text: "2741906" });
    expect(reader.endsAt).toBeNull();
  });

  test("two bursts in a row are two codes", () => {
    const first = timed([...asReader("LB1:C:next"), ENTER], 10, 1000);
    const second = timed([...asReader("LB1:C:photo"), ENTER], 10, 1400);
    expect(run([...first, ...second]).codes).toEqual(["LB1:C:next", "LB1:C:photo"]);
  });

  test("a gap of 49 ms still belongs, one of 50 ms does not", () => {
    expect(run(timed([...asReader("2741906"), ENTER], 49)).codes).toEqual(["2741906"]);
    expect(run(timed([...asReader("2741906"), ENTER], 50)).codes).toEqual([]);
  });
});

describe("people's typing is never taken", () => {
  test.each([
    ["at 80 ms a key", timed([...asReader("2741906"), ENTER], 80)],
    ["very fast, five characters", timed([...asReader("27419"), ENTER], 30)],
    ["a key held down", timed([{ key: "a" }, ...Array.from({ length: 40 }, () => ({ key: "a", repeat: true })), ENTER], 30)],
    ["writing by an input method", timed(asReader("2741906").map((key) => ({ ...key, composing: true })))],
    ["shortcuts", timed([..."abcdefgh"].map((key) => ({ key, ctrl: true })))],
    ["the Enter comes late", [...timed(asReader("27419")), ...timed([ENTER], 0, 3000)]],
    ["arrows and deleting between", timed([..."27", "ArrowLeft", ..."41", "Backspace", ..."906"].map((key) => ({ key })))],
  ])("%s", (_, keys) => {
    const reader = new WedgeReader();
    const { steps, codes } = run(keys, reader);
    expect(codes).toEqual([]);
    expect(steps.filter((step) => step.do === "swallow" || step.do === "takes_over")).toEqual([]);
    expect(reader.silence(1e9)).toEqual({ do: "let_pass" });
  });
});

test("the first key marks the field, the sixth takes over, the rest is kept from the page", () => {
  const { steps } = run(timed([...[..."2741906"].map((key) => ({ key })), ENTER]));
  expect(steps.map((step) => step.do)).toEqual([
    "begins", "may_belong", "may_belong", "may_belong", "may_belong", "takes_over", "swallow", "code",
  ]);
});

test("a burst after slow typing holds only what the reader sent", () => {
  const slow = timed([..."abc"].map((key) => ({ key })), 120, 0);
  expect(run([...slow, ...timed([...asReader("LB1:T:B-3"), ENTER], 10, 5000)]).codes).toEqual(["LB1:T:B-3"]);
});

test("foot-switch keys are commands, once a press", () => {
  const reader = new WedgeReader({ F13: "photo", PageDown: "next" });
  const { steps } = run(timed([{ key: "F13" }, { key: "F13", repeat: true }, { key: "PageDown" }, { key: "F14" }]), reader);
  expect(steps).toEqual([{ do: "command", command: "photo" }, { do: "swallow" }, { do: "command", command: "next" }, { do: "let_pass" }]);
});

describe("browsers that don't say which key it was", () => {
  test("name it unreadable and give the text through a field, whole", () => {
    const reader = new WedgeReader();
    expect(run(timed([{ key: "Unidentified" }]), reader).steps).toEqual([{ do: "unreadable" }]);
    reader.typed(UDI, 1000);
    expect(reader.silence(1080)).toEqual({ do: "code", text: UDI });
  });

  test("or in pieces, ended by a line break", () => {
    const reader = new WedgeReader();
    [...UDI].forEach((c, n) => reader.typed(c, 1000 + n * 9));
    expect(reader.typed("\n", 1000 + UDI.length * 9)).toEqual({ do: "code", text: UDI });
  });
});
