/**
 * When a touch of a wet glove counts as a press. Pure: contacts and times (ms) go in, verdicts come out.
 * Source of the rule: the look's own section on water; the times are ours and still to be measured with gloves.
 */

/** Shortest and longest time on the glass that is a press. Shorter is a drop, longer a resting hand. */
export const HOLD_MS = { least: 40, most: 1500 } as const;
/** More than two contacts that begin within this time are drops of water. */
export const DROPS_MS = 80;
/** No touch counts this long after the screen changed under the hand. */
export const DEAD_MS = 250;

export type Verdict = "press" | "too_short" | "too_long" | "outside" | "not_alone" | "drops" | "dead_time" | "unknown";

interface Contact {
  readonly begun: number;
  readonly beganInDeadTime: boolean;
  alone: boolean;
  drop: boolean;
}

/** Judges every contact on the glass; one for the whole page, since rain does not fall on one button. */
export class TouchJudge {
  readonly #contacts = new Map<number, Contact>();
  #begins: { readonly pointer: number; readonly at: number }[] = [];
  #deadUntil = Number.NEGATIVE_INFINITY;

  /** Tells that the screen has just changed at `now`. */
  screenChanged(now: number): void {
    this.#deadUntil = now + DEAD_MS;
  }

  /** A contact begins. A second one beside a fresh first spoils both; a resting hand (older than a press) spoils nothing. */
  down(pointer: number, now: number): void {
    const fresh = [...this.#contacts.values()].filter((contact) => now - contact.begun <= HOLD_MS.most);
    for (const contact of fresh) contact.alone = false;
    this.#contacts.set(pointer, { begun: now, beganInDeadTime: now < this.#deadUntil, alone: fresh.length === 0, drop: false });
    this.#begins = [...this.#begins.filter((begin) => now - begin.at <= DROPS_MS), { pointer, at: now }];
    if (this.#begins.length > 2) {
      for (const begin of this.#begins) {
        const contact = this.#contacts.get(begin.pointer);
        if (contact !== undefined) contact.drop = true;
      }
    }
  }

  /** A contact is lifted; `inside` says whether it is still on the target it began on. */
  up(pointer: number, now: number, inside: boolean): Verdict {
    const contact = this.#contacts.get(pointer);
    this.#contacts.delete(pointer);
    if (contact === undefined) return "unknown";
    if (contact.drop) return "drops";
    if (!contact.alone) return "not_alone";
    if (contact.beganInDeadTime || now < this.#deadUntil) return "dead_time";
    if (!inside) return "outside";
    const held = now - contact.begun;
    if (held < HOLD_MS.least) return "too_short";
    return held > HOLD_MS.most ? "too_long" : "press";
  }

  /** The browser took the contact for scrolling, or lost it. */
  cancel(pointer: number): void {
    this.#contacts.delete(pointer);
  }
}
