/** Names made from ids and moments, as far as the first screen needs them; the rest is in names.ts. */
import { isKey, language, say } from "./words";
import { inZone } from "./zone";

/** The sentence of a key built from data; where the words lack it the id itself stands, so that it is seen. */
export function named(prefix: "part" | "seen" | "zone" | "kind" | "reason" | "point" | "policy" | "aside", id: string): string {
  const key = `${prefix}.${id}`;
  return isKey(key) ? say(key) : id;
}

/** First letter as a sentence begins. */
export function opening(text: string): string {
  const [first = ""] = text;
  return first.toLocaleUpperCase(language()) + text.slice(first.length);
}

export function clockTime(moment: string | number | Date, zone?: string): string {
  return new Intl.DateTimeFormat(language(), { hour: "2-digit", minute: "2-digit", hourCycle: "h23", ...inZone(zone) }).format(new Date(moment));
}
