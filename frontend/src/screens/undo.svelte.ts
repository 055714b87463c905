/** The last thing saved, for as long as it can be taken back in one tap: ten seconds, then it is a correction. */
const UNDO_SECONDS = 10;

export interface Undoable {
  readonly hash: string;
  /** Further entries that the same tap wrote. */
  readonly more?: readonly string[];
  /** What was marked and as what: "Adhesive band, tube" and "looked, nothing found". */
  readonly what: string;
  readonly did: string;
  /** The part to go back to. */
  readonly part: string | undefined;
}

class Undo {
  last = $state.raw<Undoable | undefined>(undefined);
  seconds = $state(0);
  #timer: ReturnType<typeof setInterval> | undefined;

  offer(last: Undoable): void {
    clearInterval(this.#timer);
    this.last = last;
    this.seconds = UNDO_SECONDS;
    this.#timer = setInterval(() => this.#tick(), 1000);
  }

  clear(): void {
    clearInterval(this.#timer);
    this.last = undefined;
    this.seconds = 0;
  }

  #tick(): void {
    this.seconds -= 1;
    if (this.seconds <= 0) this.clear();
  }
}

export const undo = new Undo();
