/**
 * What can keep an entry from being saved, one class a situation. Screens choose the words;
 * `safe` says what is still kept, so that no screen has to guess.
 */
import type { Saved, Sha256 } from "./entry";

export abstract class RecordTrouble extends Error {
  abstract readonly code: string;
}

/** A chain rule said no; nothing was stored. `reason` is from the closed list of chain verdicts. */
export class Refused extends RecordTrouble {
  readonly code = "refused";
  override readonly name = "Refused";
  constructor(readonly reason: string) {
    super(`refused: ${reason}`);
  }
}

/**
 * The tablet is full. `kept` is the entry saved without the photos in `notKept`; it is undefined where the
 * entry means nothing without them (a serial photo), and then nothing was stored.
 */
export class NoRoom extends RecordTrouble {
  readonly code = "no_room";
  override readonly name = "NoRoom";
  constructor(readonly notKept: readonly Sha256[], readonly kept?: Saved) {
    super(kept === undefined ? "no room for the photos; nothing was stored" : "no room for the photos; the entry is stored");
  }
}

/** The entry is stored, but these photos did not read back with their own hash: take them again. */
export class PhotoDamaged extends RecordTrouble {
  readonly code = "photo_damaged";
  override readonly name = "PhotoDamaged";
  constructor(readonly kept: Saved, readonly damaged: readonly Sha256[]) {
    super("photo bytes did not read back as they were written");
  }
}

/** There is no station, no key or no chain here: the tablet must be enrolled (again). */
export class NotEnrolled extends RecordTrouble {
  readonly code = "not_enrolled";
  override readonly name = "NotEnrolled";
  constructor() {
    super("this browser is not enrolled as a station");
  }
}

/** This is a plain iPadOS browser tab, whose storage is wiped after seven days: nothing is recorded here. */
export class PlainTab extends RecordTrouble {
  readonly code = "plain_tab";
  override readonly name = "PlainTab";
  constructor() {
    super("started in a browser tab, not from the home screen");
  }
}

/** The entry's line would be longer than 64 KiB, or holds a number that is not whole. */
export class BadEntry extends RecordTrouble {
  readonly code = "bad_entry";
  override readonly name = "BadEntry";
}

export type StoreProblem = "slow_open" | "blocked" | "no_store" | "newer_store" | "lost";

/** The store did not open, or was lost twice in a row. What was saved before is untouched; drafts are kept. */
export class StoreUnusable extends RecordTrouble {
  readonly code = "store_unusable";
  override readonly name = "StoreUnusable";
  constructor(readonly problem: StoreProblem, options?: ErrorOptions) {
    super(`the store is unusable: ${problem}`, options);
  }
}
