/**
 * What a keyboard reader does, from the keys it presses, and what is wrong with its settings. Pure: keys in, findings
 * out. It takes what the app's own listener would let pass (slow readers, keys in pieces), so that it can name it.
 */
import { readCode } from "../rules/codes";
import { TEST_TEXT } from "./test-code";
import { GAP_MS, type KeyPress } from "./wedge-reader";

/** Silence that ends a sample, in ms: longer than any reader's delay that is still worth naming. */
export const SAMPLE_SILENCE_MS = 1_000;
/** Fewer characters than this were typed by hand (as in `wedge-reader.ts`). */
const LEAST = 6;
const GS = "\x1d";

/** A key with the state of Caps Lock. */
export type TestKey = KeyPress & { readonly caps?: boolean };

/** One code as it came. Gaps are those between characters, in ms. */
export interface Sample {
  readonly text: string;
  readonly gaps: readonly number[];
  readonly end: "enter" | "tab" | "nothing";
  readonly caps: boolean;
  /** The browser did not say which keys these were (Android's 229). */
  readonly unnamed: boolean;
}

/**
 * too_slow: gaps a code may not have · no_end: nothing after it · prefix, suffix: signs that are not of the code ·
 * gs_missing, gs_written, gs_other: the separator left out, written as a word, sent as another sign · no_aim: no AIM
 * identifier before it · qwertz, azerty, other_layout: the reader types for another keyboard · caps: capitals and small
 * letters changed places · upper, lower: all letters made one · lost: characters missing · unnamed: as in `Sample`.
 */
export type FaultId =
  | "too_slow" | "no_end" | "prefix" | "suffix" | "gs_missing" | "gs_written" | "gs_other" | "no_aim"
  | "qwertz" | "azerty" | "other_layout" | "caps" | "upper" | "lower" | "lost" | "unnamed";

/** `advice` works as it is; anything else should be mended. `text`, `ms` and `count` go into its sentence. */
export interface Fault {
  readonly id: FaultId;
  readonly advice: boolean;
  readonly text?: string;
  readonly ms?: number;
  readonly count?: number;
}

export interface Judged {
  /** Whether it was the test code: only then everything can be told. */
  readonly known: boolean;
  readonly aim: string | null;
  readonly separator: "sent" | "missing" | "written" | "other" | "none_here";
  readonly faults: readonly Fault[];
}

const MODIFIERS: readonly string[] = ["Shift", "Control", "Alt", "AltGraph", "Meta", "CapsLock", "NumLock", "Fn"];

/** Gathers keys to samples. */
export class SampleTaker {
  #text = "";
  #times: number[] = [];
  #caps = false;
  #unnamed = false;
  #alt = "";

  /** When silence ends the sample under way; null while there is none. */
  get endsAt(): number | null {
    const last = this.#times.at(-1);
    return last === undefined ? null : last + SAMPLE_SILENCE_MS;
  }

  press(key: TestKey): Sample | null {
    if (key.up) return this.#release(key);
    if (key.repeat || key.composing) return null;
    if (key.caps === true) this.#caps = true;
    if (key.key === "Unidentified") {
      this.#unnamed = true;
      this.#times.push(key.at);
      return null;
    }
    if (key.key === "Enter" || key.key === "Tab") return this.#end(key.key === "Enter" ? "enter" : "tab");
    if (key.alt && !key.ctrl && /^Numpad[0-9]$/.test(key.code)) {
      this.#alt += key.code.slice(-1);
      return null;
    }
    const character = characterOf(key);
    if (character !== null && !MODIFIERS.includes(key.key)) this.#add(character, key.at);
    return null;
  }

  /** Text that came in a field instead of keys. */
  typed(text: string, at: number): void {
    for (const character of text) this.#add(character, at);
  }

  silence(now: number): Sample | null {
    return this.endsAt !== null && now >= this.endsAt ? this.#end("nothing") : null;
  }

  #add(character: string, at: number): void {
    this.#text += character;
    this.#times.push(at);
  }

  #release(key: TestKey): Sample | null {
    if (key.key !== "Alt" || this.#alt === "") return null;
    const code = Number(this.#alt);
    this.#alt = "";
    if (code === 13 || code === 10) return this.#end("enter");
    if (code >= 0x1d && code < 0x7f) this.#add(String.fromCharCode(code), key.at);
    return null;
  }

  #end(end: Sample["end"]): Sample | null {
    const sample: Sample = {
      text: this.#text, end, caps: this.#caps, unnamed: this.#unnamed,
      gaps: this.#times.slice(1).map((at, index) => at - (this.#times[index] ?? at)),
    };
    this.#text = "";
    this.#times = [];
    this.#caps = this.#unnamed = false;
    return sample.text.length >= LEAST || sample.unnamed ? sample : null;
  }
}

/** The separator is Ctrl with the key right of P's neighbour, whatever that key says on this keyboard. */
function characterOf(key: TestKey): string | null {
  if (key.key === GS || (key.ctrl && !key.alt && (key.key === "]" || key.code === "BracketRight"))) return GS;
  const plain = key.ctrl === key.alt && !key.meta;
  return plain && [...key.key].length === 1 ? key.key : null;
}

/** The gap in the middle and the widest, in whole ms. */
export function speedOf(sample: Sample): { readonly usual: number; readonly most: number } {
  const sorted = [...sample.gaps].sort((a, b) => a - b);
  return { usual: Math.round(sorted[Math.floor(sorted.length / 2)] ?? 0), most: Math.round(sorted.at(-1) ?? 0) };
}

type Change = (sign: string) => string;
type Way = { readonly change: Change; readonly id: FaultId | null };

/** What a key of a US keyboard says on another one; only signs that the test code has, and `]`. From memory. */
const QWERTZ: Readonly<Record<string, string>> = { y: "z", z: "y", Y: "Z", Z: "Y", "-": "ß", _: "?", "/": "-", "]": "+" };
const AZERTY: Readonly<Record<string, string>> = {
  a: "q", q: "a", A: "Q", Q: "A", w: "z", z: "w", W: "Z", Z: "W", M: "?", "-": ")", _: "°", "/": "!", "]": "$",
  0: "à", 1: "&", 2: "é", 3: '"', 4: "'", 5: "(", 6: "-", 7: "è", 8: "_", 9: "ç",
};
const through = (table: Readonly<Record<string, string>>): Change => (sign) => table[sign] ?? sign;
const swapped: Change = (sign) => (sign === sign.toUpperCase() ? sign.toLowerCase() : sign.toUpperCase());

const LAYOUTS: readonly Way[] = [
  { id: null, change: (sign) => sign }, { id: "qwertz", change: through(QWERTZ) }, { id: "azerty", change: through(AZERTY) },
];
const CASES: readonly Way[] = [
  { id: null, change: (sign) => sign }, { id: "caps", change: swapped },
  { id: "upper", change: (sign) => sign.toUpperCase() }, { id: "lower", change: (sign) => sign.toLowerCase() },
];
const SEPARATORS: readonly { readonly as: string; readonly id: FaultId | null }[] = [
  { as: GS, id: null },
  ...["<GS>", "{GS}", "^]", "<FNC1>", "{FNC1}", "\\x1d", "\u241d"].map((as) => ({ as, id: "gs_written" as const })),
  ...["|", "~", "#", "^", " ", "]", "\\", "@", "\ufffd"].map((as) => ({ as, id: "gs_other" as const })),
  { as: "", id: "gs_missing" },
];
const SEPARATOR_IS: Readonly<Partial<Record<FaultId, Judged["separator"]>>> = { gs_written: "written", gs_other: "other", gs_missing: "missing" };
/** What works as it is, only less surely. */
const ADVICE: readonly FaultId[] = ["no_aim", "gs_written", "unnamed"];

const fault = (id: FaultId, more: Omit<Fault, "id" | "advice"> = {}): Fault => ({ id, advice: ADVICE.includes(id), ...more });

/** What is wrong with how this code came. */
export function judge(sample: Sample): Judged {
  const heard = hearingFaults(sample);
  if (sample.unnamed && sample.text === "") return { known: false, aim: null, separator: "none_here", faults: heard };
  const test = asTestCode(sample.text);
  const told = test ?? asAnyCode(sample);
  return { ...told, faults: [...told.faults, ...heard] };
}

/** What shows in keys and times alone. */
function hearingFaults(sample: Sample): Fault[] {
  const { most } = speedOf(sample);
  return [
    ...(sample.unnamed ? [fault("unnamed")] : []),
    ...(most >= GAP_MS ? [fault("too_slow", { ms: most })] : []),
    ...(sample.end === "nothing" ? [fault("no_end")] : []),
  ];
}

/** The test code through one layout, one change of letters, one separator; null where it is none of them. */
function asTestCode(text: string): Judged | null {
  for (const layout of LAYOUTS) {
    for (const letters of CASES) {
      const change: Change = (sign) => letters.change(layout.change(sign));
      for (const separator of SEPARATORS) {
        const [lot, serial] = TEST_TEXT.split(GS).map((half) => [...half].map(change).join(""));
        const whole = `${lot}${separator.as}${serial}`;
        const at = text.indexOf(whole);
        if (at !== -1) return known(text.slice(0, at), text.slice(at + whole.length), layout, letters, separator, change);
      }
    }
  }
  return nearlyTestCode(text);
}

function known(
  before: string, after: string, layout: Way, letters: Way, separator: (typeof SEPARATORS)[number], change: Change,
): Judged {
  const sign = [..."]d2"].map(change).join("");
  const aim = before.endsWith(sign) ? "]d2" : null;
  const prefix = aim === null ? before : before.slice(0, -sign.length);
  const ids = [layout.id, letters.id].filter((id) => id !== null);
  return {
    known: true, aim, separator: separator.id === null ? "sent" : (SEPARATOR_IS[separator.id] ?? "sent"),
    faults: [
      ...ids.map((id) => fault(id)),
      ...(separator.id === null ? [] : [fault(separator.id, { text: separator.as })]),
      ...(prefix === "" ? [] : [fault("prefix", { text: prefix })]),
      ...(after === "" ? [] : [fault("suffix", { text: after })]),
      ...(aim === null ? [fault("no_aim")] : []),
    ],
  };
}

/** As long as the test code with other signs in it, or the test code with some missing. */
function nearlyTestCode(text: string): Judged | null {
  const body = text.startsWith("]") ? text.slice(3) : text;
  const aim = body === text ? null : text.slice(0, 3);
  const none = aim === null ? [fault("no_aim")] : [];
  const separator = body.includes(GS) ? "sent" : "missing";
  if (body.length === TEST_TEXT.length && same(body, TEST_TEXT) * 2 > TEST_TEXT.length) {
    const pairs = [...TEST_TEXT].flatMap((sign, index) => (sign === body[index] ? [] : [`${shown(sign)} → ${shown(body[index] ?? "")}`]));
    return { known: true, aim, separator, faults: [fault("other_layout", { text: [...new Set(pairs)].join(", ") }), ...none] };
  }
  if (body.length * 2 > TEST_TEXT.length && body.length < TEST_TEXT.length && isPartOf(body, TEST_TEXT)) {
    return { known: true, aim, separator, faults: [fault("lost", { count: TEST_TEXT.length - body.length }), ...none] };
  }
  return null;
}

/** Any other code: what its own rules tell. */
function asAnyCode(sample: Sample): Judged {
  const { text } = sample;
  const aim = /^\][A-Za-z][0-9A-Za-z]/.exec(text)?.[0] ?? null;
  const notes = readCode(text, null, new Date().getFullYear()).notes.map((note) => note.note);
  const written = /<GS>|\{GS\}|<FNC1>|\{FNC1\}|\^\]/i.exec(text)?.[0];
  const separator = text.includes(GS) ? "sent" : written !== undefined ? "written" : notes.includes("separator_may_be_missing") ? "missing" : "none_here";
  return {
    known: false, aim, separator,
    faults: [
      ...(separator === "missing" ? [fault("gs_missing", { text: "" })] : []),
      ...(written === undefined ? [] : [fault("gs_written", { text: written })]),
      ...(sample.caps ? [fault("caps")] : []),
      ...(aim === null ? [fault("no_aim")] : []),
    ],
  };
}

function same(a: string, b: string): number {
  return [...a].filter((sign, index) => sign === b[index]).length;
}

/** Whether `part` is `whole` with characters left out. */
function isPartOf(part: string, whole: string): boolean {
  let at = 0;
  for (const sign of whole) if (sign === part[at]) at += 1;
  return at === part.length;
}

/** A text with its separator to be seen. */
export function shown(text: string): string {
  return text.replaceAll(GS, "[GS]");
}
