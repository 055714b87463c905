/** What became of the code or card just read, for the bar of every screen. It goes by itself. */
export interface Heard {
  /** Whether it led on. */
  readonly ok: boolean;
  readonly words: string;
  readonly note?: string | undefined;
  /** The how-manieth card or pedal since the page began; a code has none. */
  readonly card?: number | undefined;
}

class HeardNow {
  now = $state.raw<Heard>();
}
export const heard = new HeardNow();
