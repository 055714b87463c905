import { afterEach, describe, expect, test } from "vitest";
import en from "../../../shared/words/en.json";
import catalogue from "../../../shared/catalogue/catalogue.json";
import policy from "../../../shared/policy/policy.json";
import { opening } from "./naming";
import { language, say, sayMinutes, useWords, type Key, type Wording, type Words } from "./words";

const SOURCES = import.meta.glob<string>(["../**/*.ts", "../**/*.svelte", "!../**/*.test.ts"], { query: "?raw", import: "default", eager: true });
const KEYS = Object.keys(en);
const texts = (wording: Wording): string[] => (typeof wording === "string" ? [wording] : Object.values(wording));
const entries = Object.entries(en as Readonly<Record<string, Wording>>);

/** The first argument of every say(...) in `text`, quoted or as a template; a choice between two gives both. */
function askedFor(text: string): string[] {
  return [...text.matchAll(/\bsay\(([^;{}]*?)(?:,\s*\{|\))/g)]
    .flatMap((call) => [...(call[1] ?? "").matchAll(/"([a-z][\w.]*\.[\w.]+)"/g)].map((key) => key[1] ?? ""))
    .concat([...text.matchAll(/\bsay\(`([^`]*)`/g)].map((key) => key[1] ?? ""));
}

test("every sentence that the sources ask for is there", () => {
  const asked = Object.entries(SOURCES).flatMap(([file, text]) => askedFor(text).map((key) => [file, key] as const));
  expect(asked.length).toBeGreaterThan(50);
  const missing = asked.filter(([, key]) => {
    const pattern = new RegExp(`^${key.replaceAll(".", "\\.").replace(/\$\{[^}]*\}/g, "[\\w.]+")}$`);
    return !KEYS.some((known) => pattern.test(known));
  });
  expect(missing).toEqual([]);
});

test("the reader of keys sees quoted keys, choices and templates", () => {
  expect(askedFor('say("a.b"); say(x ? "c.d" : "e.f", { n: 1 }); say(`g.${h}`, { count: 2 })')).toEqual(["a.b", "c.d", "e.f", "g.${h}"]);
});

test("every part, zone, point, finding, reason, step and policy row of the shared data has its words", () => {
  const need = new Set<string>();
  for (const kind of Object.values(catalogue.kinds)) {
    for (const zone of kind.zones) need.add(`zone.${zone}`);
    for (const part of [...kind.parts, ...kind.channels]) {
      need.add(`part.${part.id}`);
      need.add(`part.${part.id}.short`);
    }
    for (const step of kind.leak_steps) need.add(`leak.step.${step}`);
    for (const point of Object.keys(kind.points)) need.add(`point.${point}`);
  }
  for (const kind of Object.keys(catalogue.kinds)) need.add(`kind.${kind}`);
  for (const finding of Object.keys(catalogue.findings)) need.add(`seen.${finding}`);
  for (const reason of Object.values(catalogue.reasons).flat()) need.add(`reason.${reason}`);
  for (const row of policy.rows) need.add(`policy.${row.id}`);
  expect([...need].filter((key) => !KEYS.includes(key))).toEqual([]);
});

describe("words that are never on screen", () => {
  // look, section 4: the closed list of words.
  const NEVER = /\b(errors?|invalid|sync\w*|upload\w*|cached?|users?|assets?|workflows?|please|oops|sterile|pass(?:ed|es)?|ok)\b/i;
  // "Clean" is an act or a side of the room, never a state of a scope; these keys say the act, the side or the point.
  const CLEAN_ACTS = new Set(["first.clean", "caution.wipe_tablet", "side.clean"]);
  // "Safe" is said of what is recorded, "failed" of a leak test, both nowhere else.
  const SAFE = new Set(["trouble.tablet_full.safe", "trouble.safe"]);
  const FAILED = new Set(["leak.save_failed", "leak.caution", "reason.leak_test_failed", "policy.leak_failed", "serial.leak_first", "help.serial.3", "help.leak.3",
    "repair.none_next", "repair.said.leak_test", "repair.said.leak_test_short", "repair.item.opened", "repair.widened", "help.repair.1", "help.repair.2", "repairs.none_next"]);
  const found = (word: RegExp, allowed: ReadonlySet<string>) =>
    entries.filter(([key, wording]) => !allowed.has(key) && texts(wording).some((text) => word.test(text))).map(([key]) => key);

  test("the computer's words stand nowhere", () => {
    expect(found(NEVER, new Set())).toEqual([]);
  });
  test("no scope is said to be clean, safe, or failed", () => {
    expect(found(/\bclean\b/i, CLEAN_ACTS)).toEqual([]);
    expect(found(/\bsafe\b/i, SAFE)).toEqual([]);
    expect(found(/\bfail\w*/i, FAILED)).toEqual([]);
  });
  test("the list of exceptions holds no key that needs none", () => {
    const has = (word: RegExp, keys: ReadonlySet<string>) => [...keys].filter((key) => !texts((en as Record<string, Wording>)[key] ?? "").some((text) => word.test(text)));
    expect([...has(/\bclean\b/i, CLEAN_ACTS), ...has(/\bsafe\b/i, SAFE), ...has(/\bfail/i, FAILED)]).toEqual([]);
  });
  test("buttons and sentences carry no exclamation mark, and trouble has its three parts", () => {
    expect(found(/!/, new Set())).toEqual([]);
    const told = KEYS.map((key) => /^trouble\.(\w+)\.\w+$/.exec(key)?.[1]).filter((name) => name !== undefined);
    const missing = [...new Set(told)].flatMap((name) => ["so", "safe", "next"].map((part) => `trouble.${name}.${part}`)).filter((key) => !KEYS.includes(key));
    expect(told.length).toBeGreaterThan(10);
    expect(missing).toEqual([]);
  });
});

test("a plural has its singular, its other, and asks for the count", () => {
  for (const [key, wording] of entries) {
    if (typeof wording === "string") continue;
    expect(Object.keys(wording).sort(), key).toEqual(["one", "other"]);
    expect(texts(wording).some((text) => text.includes("{count}")), key).toBe(true);
  }
});

describe("say", () => {
  afterEach(() => useWords("en", en));

  test("fills placeholders, chooses the plural, writes numbers as the language does", () => {
    expect(say("mark.count.finding", { count: 1 })).toBe("1 finding");
    expect(say("mark.count.finding", { count: 0 })).toBe("0 findings");
    expect(say("sent.saved_here", { count: 1400 })).toBe("1,400 saved here");
    expect(say("zone.mark", { zone: "tube", answer: say("mark.said.nothing_found"), count: 3 })).toBe("Whole tube: looked, nothing found · 3 parts");
    expect(say("line.part", { n: 12, total: 28, name: say("part.tube_2"), mark: say("mark.said.not_looked") })).toBe("Part 12 of 28, insertion tube, 2nd third, not looked yet");
  });

  test("a text that looks like a placeholder is not filled again, and a missing value stays visible", () => {
    expect(say("scan.read", { code: "{tag} $& x" })).toBe("Read: {tag} $& x");
    expect(say("scan.read")).toBe("Read: {code}");
  });

  test("says minutes and hours as people here do", () => {
    expect([0, 18, 59, 60, 242].map(sayMinutes)).toEqual(["0 min", "18 min", "59 min", "1 h 00", "4 h 02"]);
  });

  test("a name at the head begins as the language writes it", () => {
    expect([opening("insertion tube"), opening(""), opening("ß"), opening("3 parts")]).toEqual(["Insertion tube", "", "SS", "3 parts"]);
    useWords("tr", en);
    expect(opening("insertion tube"), "dotted capital, from memory").toBe("İnsertion tube");
  });

  // CLDR plural rules for Polish: 1 one, 2 to 4 few, 5 many.
  test("another language uses its own plural forms and digits", () => {
    const polish = { ...en, "mark.count.finding": { one: "{count} wynik", few: "{count} wyniki", many: "{count} wyników", other: "{count} wyniku" } } satisfies Words;
    useWords("pl", polish);
    expect([1, 3, 5].map((count) => say("mark.count.finding", { count }))).toEqual(["1 wynik", "3 wyniki", "5 wyników"]);
    expect(language()).toBe("pl");
    const arabic: Words = en;
    useWords("ar-EG", arabic);
    expect(say("time.minutes" satisfies Key, { n: 18 })).toBe("١٨ min");
  });
});
