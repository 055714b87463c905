/** One act at a time on a screen, and why the last one was not done: what every button that records goes through. */
export class Saving {
  problem = $state.raw<unknown>(undefined);
  #busy = false;
  #under: Promise<boolean> = Promise.resolve(true);
  /** The answer that stands last in the line. */
  #newest: string | undefined;
  #at = "";

  /** Whether the screen on which the act began is still there: who went elsewhere meanwhile is not taken from there. */
  get stands(): boolean {
    return location.hash === this.#at;
  }

  /** Does it, unless one is under way; whether it was done. What goes wrong is kept for the screen to say. */
  run(act: () => Promise<void>): Promise<boolean> {
    if (this.#busy) return Promise.resolve(false);
    this.problem = undefined;
    this.#under = this.#do(act);
    return this.#under;
  }

  /**
   * The same for answers that each stand for themselves: one that is given while another is kept comes after it and is
   * not lost. The newest, `what`, tapped again before it was kept, is one answer; after another it is a new one.
   */
  async inTurn(what: string, act: () => Promise<void>): Promise<boolean> {
    if (this.#newest === what) return false;
    this.#newest = what;
    if (!this.#busy) this.problem = undefined; // what went wrong with one before it in the line is still to be read
    try {
      while (this.#busy) await this.#under;
      this.#under = this.#do(act);
      return await this.#under;
    } finally {
      if (this.#newest === what) this.#newest = undefined;
    }
  }

  async #do(act: () => Promise<void>): Promise<boolean> {
    this.#busy = true;
    this.#at = location.hash;
    try {
      await act();
      return true;
    } catch (cause) {
      this.problem = cause;
      return false;
    } finally {
      this.#busy = false;
    }
  }
}
