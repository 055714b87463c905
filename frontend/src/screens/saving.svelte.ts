/** One act at a time on a screen, and why the last one was not done: what every button that records goes through. */
export class Saving {
  problem = $state.raw<unknown>(undefined);
  #busy = false;
  #at = "";

  /** Whether the screen on which the act began is still there: who went elsewhere meanwhile is not taken from there. */
  get stands(): boolean {
    return location.hash === this.#at;
  }

  /** Does it, unless one is under way; whether it was done. What goes wrong is kept for the screen to say. */
  async run(act: () => Promise<void>): Promise<boolean> {
    if (this.#busy) return false;
    this.#busy = true;
    this.#at = location.hash;
    this.problem = undefined;
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
