/** The mark a photo carries into its entry: how it was taken, and what was told of it. */
import type { Shot } from "../capture/photo";
import { type Memory, memoryOf } from "../capture/photo-memory";
import { type Sharpness, SharpWatch, supposed } from "../capture/photo-sharp";
import type { Taken } from "../record/kinds";
import { moment } from "../record/moment";

/** What is told of a photo that was taken. */
export interface Told {
  readonly taken: Taken;
  /** Undefined where there is nothing to compare it with and nothing against it. */
  readonly tells: Sharpness | undefined;
}

/** When a photo was taken, by the name the camera gives itself, and with which tool before it; '' is none. */
export interface By {
  readonly at: Date;
  readonly camera?: string | undefined;
  readonly tool: string;
}

/** The longest name of a camera or a tool, in letters: a hundred photos of a card must fit into one entry. */
const LONGEST = 60;
/** Before it no file was written by what is looked with here: a clock that was never set says the beginning of its time. */
const NOT_BEFORE = Date.UTC(2000, 0, 1);

/** In the form that entries are written in, never cut within a letter. */
const short = (name: string): string => [...name.normalize("NFC")].slice(0, LONGEST).join("");

/** `now` in milliseconds of the clock that `watch` was told its frames by. */
export function markOf(shot: Shot, watch: SharpWatch, now: number, { at, camera = "", tool }: By, known = true): Told {
  const share = watch.share(shot, now);
  const told = watch.against(shot, now);
  return {
    taken: {
      way: shot.took, told,
      ...(share === null || !known ? {} : { sharp_permille: Math.round(share * 1000) }),
      ...(shot.of === undefined ? {} : { of: shot.of }),
      ...(at.getTime() < NOT_BEFORE ? {} : { at: moment(at) }),
      ...(camera === "" ? {} : { camera: short(camera) }),
      ...(tool === "" ? {} : { tool: short(tool) }),
    },
    tells: told[0] ?? (share === null ? undefined : "sharp"),
  };
}

/**
 * Pictures that did not come from a live camera here: of the tablet's own camera sheet, or of files, with one tool
 * before them. They get the same checks, held against what came that way before.
 */
export class Elsewhere {
  readonly #memory: Memory;
  readonly #watch: SharpWatch;

  constructor(way: "sheet" | "file", private readonly tool: string, memory: Memory = memoryOf(way, tool)) {
    this.#memory = memory;
    this.#watch = new SharpWatch(supposed(memory));
  }

  /** `wrote` is when the file says that it was written. */
  mark(shot: Shot, wrote: number): Told {
    const told = markOf(shot, this.#watch, 0, { at: new Date(wrote), tool: this.tool }, this.#memory.best() > 0);
    if (shot.crisp > 0) this.#memory.note(shot.crisp, 0);
    return told;
  }
}
