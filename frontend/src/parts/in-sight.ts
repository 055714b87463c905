import type { Action } from "svelte/action";

/** Of what must be seen as a whole, the share from which it counts as seen (ours). */
const SEEN_FROM = 0.75;

/** Tells once, when most of it stands on the screen: loaded below the edge is not seen. */
export const inSight: Action<HTMLElement, () => void> = (node, told) => {
  const watch = new IntersectionObserver(
    (seen) => {
      if (!seen.some((each) => each.isIntersecting)) return;
      watch.disconnect();
      told();
    },
    { threshold: SEEN_FROM },
  );
  watch.observe(node);
  return { destroy: () => watch.disconnect() };
};
