/** A value that changes, by the contract of Svelte stores, without Svelte. */

export interface Readable<T> {
  /** Calls `run` with the present value at once and on every change; the answer ends it. */
  subscribe(run: (value: T) => void): () => void;
}

/** A readable whose owner sets it. Setting the same reference tells nobody. */
export class Told<T> implements Readable<T> {
  readonly #listeners = new Set<(value: T) => void>();
  #value: T;

  constructor(value: T) {
    this.#value = value;
  }

  get value(): T {
    return this.#value;
  }

  set(value: T): void {
    if (Object.is(value, this.#value)) return;
    this.#value = value;
    for (const run of [...this.#listeners]) run(value);
  }

  subscribe(run: (value: T) => void): () => void {
    this.#listeners.add(run);
    run(this.#value);
    return () => this.#listeners.delete(run);
  }
}
