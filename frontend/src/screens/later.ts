/** Screens that are not part of the first load. Each is one file of the build; all are fetched once the first screen stands. */
export const cameraScan = () => import("./camera-scan.svelte");
export const enrol = () => import("./enrol.svelte");
export const hold = () => import("./hold.svelte");
export const inspect = () => import("./inspect.svelte");
export const kept = () => import("./kept.svelte");
export const person = () => import("./person.svelte");
export const register = () => import("./register.svelte");
export const serial = () => import("./serial.svelte");
export const type = () => import("./type.svelte");

/** What a first screen only needs when something happens: a code is heard, something is written, the server is asked. */
export const meeting = () => import("./meeting");
export const states = () => import("../record/state");
export const saving = () => import("../record/append");
export const sending = () => import("../record/sender");
export const cardsLater = () => import("../cards/fetch");
export const wedge = () => import("../capture/wedge");
export const lastTime = () => import("../cards/then");

const ALL = [meeting, saving, inspect, serial, cameraScan, type, hold, kept, person, register] as const;

/** Fetches every later screen, so that the first tap on each finds it. A file that does not come is asked for again by its tap. */
export async function fetchLater(): Promise<void> {
  for (const load of ALL) await load().catch(() => undefined);
}
