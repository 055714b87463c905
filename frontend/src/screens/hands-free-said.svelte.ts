/** The last card or pedal and what came of it, for the sign that shows it. */

/** How long a sign stands: what was done is seen at a glance, what was not or is still asked for has to be read. */
const DONE_MS = 4_000;
const READ_MS = 10_000;

class Cards {
  last = $state.raw<{ readonly read: string; readonly words: string | undefined; readonly did: boolean; readonly n: number } | undefined>(undefined);
  /** A card or a pedal was used since the page began: numbers then stand beside choices. */
  used = $state(false);
  #timer: ReturnType<typeof setTimeout> | undefined;

  say(read: string, words: string | undefined, did: boolean): void {
    clearTimeout(this.#timer);
    this.used = true;
    this.last = { read, words, did, n: (this.last?.n ?? 0) + 1 };
    this.#timer = setTimeout(() => (this.last = undefined), words === undefined ? DONE_MS : READ_MS);
  }
}

export const cards = new Cards();
