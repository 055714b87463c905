import type { Action } from "svelte/action";

/** Of what must be seen as a whole, the share from which it counts as seen (ours). */
export const SEEN_FROM = 0.75;

/** Tells whether most of it stands on the screen, at each change: loaded below the edge, or gone again, is not in sight. */
export const inSight: Action<HTMLElement, (seen: boolean) => void> = (node, told) => {
  // By the share alone: of what is told first, some browsers say that it intersects however little of it does.
  const watch = new IntersectionObserver((seen) => told((seen.at(-1)?.intersectionRatio ?? 0) >= SEEN_FROM), { threshold: SEEN_FROM });
  watch.observe(node);
  return {
    destroy() {
      watch.disconnect();
      told(false);
    },
  };
};
