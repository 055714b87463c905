import type { Wording, Words } from "../../../../frontend/src/parts/words";

const ACCENTS: Readonly<Record<string, string>> = { a: "á", e: "ë", i: "ï", o: "ö", u: "ü", n: "ñ", c: "ç", A: "Å", E: "É", O: "Ø", U: "Ü" };

/** A text in accents and two fifths longer, its placeholders untouched. */
export function lengthened(text: string): string {
  const accented = text.split(/(\{\w+\})/).map((piece) => (piece.startsWith("{") ? piece : piece.replace(/[aeiouncAEOU]/g, (letter) => ACCENTS[letter] ?? letter))).join("");
  const words = Math.ceil((text.length * 0.4) / 5);
  return `${accented} ${Array.from({ length: words }, () => "ßühn").join(" ")}`.trim();
}

/** The words in an invented long language. */
export function pseudo(words: Words): Words {
  const longer = (wording: Wording): Wording =>
    typeof wording === "string" ? lengthened(wording) : { ...wording, ...Object.fromEntries(Object.entries(wording).map(([rule, text]) => [rule, lengthened(text)])) };
  return Object.fromEntries(Object.entries(words).map(([key, wording]) => [key, longer(wording)])) as Words;
}
