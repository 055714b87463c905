/** Screens that have come: what is here already is shown in the same moment, what is not is waited for. */
import { until } from "../parts/settled";

export type Load<Screen> = () => Promise<{ readonly default: Screen }>;

const here = new WeakMap<Load<unknown>, unknown>();

/** The screen itself where its file has come, else the promise of it. */
export function screenOf<Screen>(load: Load<Screen>): Screen | Promise<Screen> {
  const known = here.get(load) as Screen | undefined;
  return known ?? until(fetched(load));
}

/** Fetches a screen's file and remembers that it has come. Raises what the network raised. */
export async function fetched<Screen>(load: Load<Screen>): Promise<Screen> {
  const screen = (await load()).default;
  here.set(load, screen);
  return screen;
}
