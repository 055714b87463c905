/** What was tested or tried, and what it showed, in words: on the tablet and at the desk alike. */
import { isKey, type Key, say } from "./words";

export const TEST_WORDS: Readonly<Record<string, Key>> = {
  held: "leak.held", bubbles: "leak.bubbles", pressure_dropped: "leak.dropped", could_not_test: "leak.could_not",
  within_limit: "leakage.within", over_limit: "leakage.over",
  works: "function.works", weak: "function.weak", does_not_work: "function.does_not_work", not_checked: "function.not_checked",
};

/** The leak test, the leakage current, a function of the catalogue; what no word is known for stays as it was written. */
export function readingName(what: string): string {
  if (what === "leak_test") return say("leak.title");
  if (what === "leakage_current") return say("leakage.title");
  const key = [`check.${what}`, `measured.${what}`].find(isKey);
  return key === undefined ? what : say(key);
}
