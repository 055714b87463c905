/** A piece of a sentence; `strong` where a choice was put in. */
export interface Piece {
  readonly text: string;
  readonly strong: boolean;
}

/** Cuts a whole sentence where the chosen words stand in it, in order; words that are not there change nothing. */
export function pieces(sentence: string, chosen: readonly string[]): readonly Piece[] {
  const found: Piece[] = [];
  let rest = sentence;
  for (const words of chosen) {
    const at = words === "" ? -1 : rest.indexOf(words);
    if (at === -1) continue;
    if (at > 0) found.push({ text: rest.slice(0, at), strong: false });
    found.push({ text: words, strong: true });
    rest = rest.slice(at + words.length);
  }
  if (rest !== "") found.push({ text: rest, strong: false });
  return found;
}
