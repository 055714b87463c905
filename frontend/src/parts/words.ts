import en from "../../../shared/words/en.json";

/** Names of the sentences in shared/words/en.json. */
export type Key = keyof typeof en;

export type Params = Readonly<Record<string, string | number>>;
/** A sentence, or one for each plural form of the language, chosen by `count`. */
export type Wording = string | Readonly<Partial<Record<Intl.LDMLPluralRule, string>> & { other: string }>;
export type Words = Readonly<Record<Key, Wording>>;

/** The English words that are loaded: in a build those of the first screen (see build/words.ts), then all. */
const english: Record<string, Wording> = { ...en };
let words: Readonly<Record<string, Wording>> = english;
let tag = "en";
let plural = new Intl.PluralRules(tag);
let number = new Intl.NumberFormat(tag);

/** Adds the words of the later screens; a language set by `useWords` has its own. */
export function addWords(more: Readonly<Record<string, Wording>>): void {
  Object.assign(english, more);
}

/** Whether a key made from data has a sentence. */
export function isKey(key: string): key is Key {
  return Object.hasOwn(words, key);
}

/** Sets the language before the first screen is mounted; `table` has every key of en.json. */
export function useWords(language: string, table: Words): void {
  words = table;
  tag = language;
  plural = new Intl.PluralRules(tag);
  number = new Intl.NumberFormat(tag);
}

/** BCP 47 tag of the words in use, for `lang` and `Intl`. */
export function language(): string {
  return tag;
}

function wordingOf(wording: Wording, params: Params): string {
  if (typeof wording === "string") return wording;
  const count = params["count"];
  return (typeof count === "number" ? wording[plural.select(count)] : undefined) ?? wording.other;
}

/**
 * The sentence for `key` with its {placeholders} filled. Numbers are written as the language writes them;
 * text is put in as it is. A placeholder without a value, or a key without its words, stays visible, so that it
 * is seen and mended.
 */
export function say(key: Key, params: Params = {}): string {
  return wordingOf(words[key] ?? key, params).replace(/\{(\w+)\}/g, (whole, name: string) => {
    const value = params[name];
    if (value === undefined) return whole;
    return typeof value === "number" ? number.format(value) : value;
  });
}

/** Whole minutes as people here say them: "18 min", from an hour on "4 h 02". */
export function sayMinutes(minutes: number): string {
  const whole = Math.max(0, Math.floor(minutes));
  if (whole < 60) return say("time.minutes", { n: whole });
  return say("time.hours_minutes", { h: Math.floor(whole / 60), mm: String(whole % 60).padStart(2, "0") });
}
