/** Screens that are not part of the first load: most are one file of the build, fetched once the first screen stands. */
import { until } from "../parts/settled";
import { fetched } from "./ready";

export const asked = () => import("./asked.svelte");
export const cameraScan = () => import("./camera-scan.svelte");
export const cycle = () => import("./cycle.svelte");
export const enrol = () => import("./enrol.svelte");
export const handOver = () => import("./hand-over.svelte");
export const handsFree = () => import("./hands-free.svelte");
export const heardSign = () => import("./heard-sign.svelte");
export const hold = () => import("./hold.svelte");
export const homeMeeting = () => import("./home-meeting.svelte");
export const homeWork = () => import("./home-work.svelte");
export const nextScan = () => import("./next-scan.svelte");
export const inspect = () => import("./inspect.svelte");
export const help = () => import("./help.svelte");
export const lost = () => import("./lost.svelte");
export const kept = () => import("./kept.svelte");
export const practice = () => import("./practice");
export const practiceHome = () => import("./practice-home.svelte");
export const practiceStore = () => import("../record/practice-store");
export const person = () => import("./person.svelte");
export const reader = () => import("./reader.svelte");
export const register = () => import("./register.svelte");
export const tools = () => import("./tools.svelte");
export const serial = () => import("./serial.svelte");
export const repair = () => import("./repair-screens.svelte");
export const step = () => import("./step.svelte");
export const type = () => import("./type.svelte");
export const another = () => import("./another.svelte");
export const stopped = () => import("./stopped.svelte");
export const wipe = () => import("./wipe.svelte");

/** Fetched when they are asked for: neither does anything without the server. */
export const byCode = () => import("./by-code.svelte");
export const recoveryCode = () => import("./recovery.svelte");

const SCREENS = [inspect, serial, cameraScan, type, hold, kept, lost, person, register, another, tools, help, reader, wipe, heardSign, handsFree, stopped, repair, asked] as const;

/** What a first screen only needs when something happens: a PIN is given, a code is heard, something is written, the server is asked. */
export const refusedPin = () => import("./refused-pin");
export const signingIn = () => import("../cards/sign-in");
export const offering = () => import("./offering");
export const meeting = () => import("./meeting");
export const scanned = () => import("./scanned");
export const recent = () => import("./recent");
export const scanSays = () => import("./scan-says");
export const takingBack = () => import("./taking-back");
export const sending = () => import("../record/sender");
export const cardsLater = () => import("../cards/fetch");
export const wedge = () => import("./readers");
export const handsFreeActs = () => import("./hands-free");
export const awake = () => import("./awake");
export const lastTime = () => import("../cards/then");

const HOME = [homeMeeting, homeWork, nextScan, cycle, step] as const;
const PARTS = [signingIn, refusedPin, meeting, scanned, recent, scanSays, offering, takingBack, awake, handsFreeActs] as const;

/** Fetches every later screen, so that the first tap on each finds it. A file that does not come is asked for again by its tap. */
export async function fetchLater(): Promise<void> {
  const fetches: (() => Promise<unknown>)[] = [...PARTS, ...[...HOME, ...SCREENS].map((load) => () => fetched<unknown>(load))];
  for (const fetch of fetches) await fetch().catch(() => undefined);
}

const AGAIN_MS = 5_000;

/** Starts what is not of the first load; a file that does not come is asked for again. The answer ends it. */
export function starting<Part>(load: () => Promise<Part>, start: (part: Part) => () => void): () => void {
  let end: (() => void) | undefined;
  let over = false;
  const ask = (): void => {
    if (over) return;
    void until(load()).then((part) => {
      if (!over) end = start(part);
    }, () => setTimeout(ask, AGAIN_MS));
  };
  ask();
  return () => {
    over = true;
    end?.();
  };
}
