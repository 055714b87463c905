/** What leaves the hand asks for two cards: the first says what, the second within ten seconds that it is meant. */
const ARMED_MS = 10_000;

export class Armed {
  on = $state(false);
  #timer: ReturnType<typeof setTimeout> | undefined;

  arm(): void {
    clearTimeout(this.#timer);
    this.on = true;
    this.#timer = setTimeout(() => (this.on = false), ARMED_MS);
  }

  /** Whether it was armed; it no longer is. */
  disarm(): boolean {
    clearTimeout(this.#timer);
    const was = this.on;
    this.on = false;
    return was;
  }
}
