/** A photo then against a photo now while they are looked at: which, how they are shown, how one lies over the other. */
import type { Laid } from "../parts/types";
import { until } from "../parts/settled";
import { AS_IT_IS, type Laying } from "../workers/align-warp";
import { aligned, differences } from "./aligner";
import { movedOnce, type HandMove } from "./moving";

export type Mode = "beside" | "wipe" | "blink";
export type How = "by_itself" | "by_hand" | "as_they_are";

/** One photo of before. Without `src` its picture is not here. */
export interface Then {
  readonly id: "last" | "acceptance" | "first" | "compared";
  readonly sha256: string;
  readonly label: string;
  readonly alt: string;
  readonly when: string;
  readonly src?: string | undefined;
  /** It may show a person: hidden, also while it stands on the screen. */
  readonly hidden?: boolean | undefined;
  readonly laid?: Laid | undefined;
}

export interface Now {
  readonly sha256: string;
  readonly alt: string;
  readonly when: string;
  readonly src?: string | undefined;
  /** It may show a person: hidden, also while it stands on the screen. */
  readonly hidden?: boolean | undefined;
  readonly laid?: Laid | undefined;
}

/** Half a second each: one change back and forth a second, far below the three flashes of WCAG 2.3.1. */
export const BLINK_MS = 500;

export class Comparing {
  mode = $state<Mode>("beside");
  chosen = $state<Then["id"]>("last");
  laying = $state.raw<Laying>(AS_IT_IS);
  how = $state<How>("as_they_are");
  /** aligning: the worker looks; refused: it found nothing that holds. */
  state = $state<"idle" | "aligning" | "aligned" | "refused">("idle");
  /** Which photo stands on top while they blink. */
  top = $state<"then" | "now">("now");
  blinking = $state(false);
  hint = $state(false);
  cells = $state.raw<Uint8Array | undefined>(undefined);
  wipe = $state(50);
  images: { then?: HTMLImageElement | undefined; now?: HTMLImageElement | undefined } = {};
  #asked = "";

  /** A photo of before was chosen, or another photo now: what was found for the pair before holds no more. */
  choose(id: Then["id"]): void {
    this.chosen = id;
    this.#forget();
  }

  /** A picture of the pair is not here, or no more. */
  letGo(): void {
    this.images = {};
    this.#forget();
  }

  #forget(): void {
    [this.laying, this.how, this.state, this.cells, this.hint, this.#asked] = [AS_IT_IS, "as_they_are", "idle", undefined, false, ""];
  }

  show(mode: Mode): void {
    this.mode = mode;
    this.top = "now";
    this.blinking = mode === "blink" && !matchMedia("(prefers-reduced-motion: reduce)").matches;
  }

  swap(): void {
    this.top = this.top === "now" ? "then" : "now";
  }

  /** Asks once a pair; `again` asks whatever was done by hand. */
  async align(pair: string, again = false): Promise<void> {
    const { then, now } = this.images;
    if (then === undefined || now === undefined || (this.#asked === pair && !again)) return;
    this.#asked = pair;
    this.state = "aligning";
    const found = await until(aligned(then, now)).catch(() => ({ refused: "nothing_found" as const }));
    if (this.#asked !== pair || this.state !== "aligning") return;
    this.cells = undefined;
    if ("laying" in found) [this.laying, this.how, this.state] = [found.laying, "by_itself", "aligned"];
    else [this.laying, this.how, this.state] = [AS_IT_IS, "as_they_are", "refused"];
    if (this.hint) await this.point();
  }

  move(step: HandMove): void {
    this.put(movedOnce(this.laying, step));
  }

  put(laying: Laying): void {
    [this.laying, this.how, this.cells, this.hint] = [laying, "by_hand", undefined, false];
    if (this.state === "aligning") this.state = "idle";
  }

  asTheyAre(): void {
    [this.laying, this.how, this.cells, this.hint] = [AS_IT_IS, "as_they_are", undefined, false];
  }

  /** Where they differ, as a hint: asked for, never by itself. */
  async point(): Promise<void> {
    const { then, now } = this.images;
    this.hint = true;
    if (then === undefined || now === undefined) return;
    this.cells = await until(differences(then, now, this.laying)).catch(() => undefined);
  }
}
