/**
 * Tells a keyboard reader's burst from a person's typing. Pure: keys with their times in, steps out.
 *
 * A burst is at least six characters with gaps under 50 ms (readers measure 7 to 16 ms, people above
 * 80; common practice, no source). It ends on Enter or Tab, or after 80 ms of silence.
 */
import type { Command } from "../rules/codes";

export const GAP_MS = 50;
export const SILENCE_MS = 80;
export const SHORTEST = 6;

/** A key going down or up, as far as a burst cares. `at` is the event's own time in ms. */
export interface KeyPress {
  readonly key: string;
  readonly code: string;
  readonly at: number;
  readonly up: boolean;
  readonly ctrl: boolean;
  readonly alt: boolean;
  readonly meta: boolean;
  readonly repeat: boolean;
  readonly composing: boolean;
}

/**
 * What to do about a key.
 * let_pass: it is not ours · begins: the first key of what may become a burst, remember the field now ·
 * may_belong: it came as fast as a reader's, so it must not press a button · swallow: part of a burst,
 * keep it from the page · takes_over: as swallow, and undo what the burst has typed so far ·
 * code: as swallow, the burst has ended · command: a foot switch · unreadable: the browser does not
 * say which key it was (Android's 229), read it from a field instead.
 */
export type WedgeStep =
  | { readonly do: "let_pass" | "begins" | "may_belong" | "swallow" | "takes_over" | "unreadable" }
  | { readonly do: "code"; readonly text: string }
  | { readonly do: "command"; readonly command: Command };

/** `event.key` of a foot switch -> command. Foot switches that pose as keyboards send F13-F24 or page keys. */
export type FootKeys = Readonly<Record<string, Command>>;

export const FOOT_KEYS: FootKeys = {
  F13: "photo", F14: "next", F15: "back", F16: "nothing-found", F17: "undo", F18: "zone",
};

const MODIFIERS: readonly string[] = ["Shift", "Control", "Alt", "AltGraph", "Meta", "CapsLock", "NumLock", "Fn"];
const PASS: WedgeStep = { do: "let_pass" };
const GS = "\x1d";

export class WedgeReader {
  private text = "";
  private lastAt = Number.NEGATIVE_INFINITY;
  private altDigits = "";

  constructor(private readonly footKeys: FootKeys = FOOT_KEYS) {}

  /** The time after which silence ends the burst; null while none is under way. */
  get endsAt(): number | null {
    return this.text === "" ? null : this.lastAt + SILENCE_MS;
  }

  /** Whether enough has come for it to be a reader. */
  get isBurst(): boolean {
    return this.text.length >= SHORTEST;
  }

  /** A key went down or up. */
  press(key: KeyPress): WedgeStep {
    if (key.composing) return this.forget();
    if (key.up) return this.release(key);
    const command = this.footKeys[key.key];
    if (command !== undefined) return key.repeat ? { do: "swallow" } : { do: "command", command };
    if (key.key === "Unidentified" || key.key === "Process") return { do: "unreadable" };
    if (MODIFIERS.includes(key.key)) return this.touch(key.at);
    if (key.repeat) return this.forget();
    if (key.alt && !key.ctrl && /^Numpad[0-9]$/.test(key.code)) return this.altDigit(key);
    if (key.key === "Enter" || key.key === "Tab" || isControl(key, "m")) return this.end(key.at);
    const character = characterOf(key);
    return character === null ? this.forget() : this.add(character, key.at);
  }

  /** Text that arrived in the fallback field, whole or in pieces. */
  typed(text: string, at: number): WedgeStep {
    let step: WedgeStep = PASS;
    for (const character of text) {
      step = character === "\n" || character === "\r" || character === "\t" ? this.end(at) : this.add(character, at);
      if (step.do === "code") return step;
    }
    return step;
  }

  /** Nothing has come until `now`: a burst whose time is over is a code. */
  silence(now: number): WedgeStep {
    const { endsAt } = this;
    if (endsAt === null || now < endsAt) return PASS;
    return this.finish();
  }

  private add(character: string, at: number): WedgeStep {
    const follows = at - this.lastAt < GAP_MS;
    this.lastAt = at;
    if (!follows || this.text === "") {
      this.text = character;
      return { do: "begins" };
    }
    this.text += character;
    if (this.text.length === SHORTEST) return { do: "takes_over" };
    return { do: this.isBurst ? "swallow" : "may_belong" };
  }

  private end(at: number): WedgeStep {
    return at - this.lastAt < GAP_MS ? this.finish() : this.forget();
  }

  private finish(): WedgeStep {
    const { text, isBurst } = this;
    this.forget();
    return isBurst ? { do: "code", text } : PASS;
  }

  private forget(): WedgeStep {
    this.text = "";
    this.altDigits = "";
    this.lastAt = Number.NEGATIVE_INFINITY;
    return PASS;
  }

  /** A modifier between two characters neither ends nor feeds a burst. */
  private touch(at: number): WedgeStep {
    if (this.text !== "" && at - this.lastAt < GAP_MS) this.lastAt = at;
    return this.isBurst ? { do: "swallow" } : PASS;
  }

  /** Readers in "Alt mode" send each character as its number on the number pad while Alt is down. */
  private altDigit(key: KeyPress): WedgeStep {
    this.altDigits += key.code.slice(-1);
    return this.touch(key.at);
  }

  private release(key: KeyPress): WedgeStep {
    if (key.key !== "Alt" || this.altDigits === "") return PASS;
    const code = Number(this.altDigits);
    this.altDigits = "";
    if (code === 10 || code === 13) return this.end(key.at);
    const known = (code >= 0x20 && code < 0x7f) || code === 0x1d;
    return known ? this.add(String.fromCharCode(code), key.at) : this.touch(key.at);
  }
}

function isControl(key: KeyPress, letter: string): boolean {
  return key.ctrl && !key.alt && key.key.toLowerCase() === letter;
}

/** The character a key stands for: the group separator comes as Ctrl+], right Alt as Ctrl with Alt. */
function characterOf(key: KeyPress): string | null {
  if (key.key === GS || isControl(key, "]")) return GS;
  const plain = key.ctrl === key.alt && !key.meta;
  return plain && [...key.key].length === 1 ? key.key : null;
}
