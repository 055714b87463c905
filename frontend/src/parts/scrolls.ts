import type { Action } from "svelte/action";

/** Lets the keyboard reach a region while its content is longer than it is (WCAG 2.1.1); else it is no stop on the way. */
export const scrolls: Action<HTMLElement> = (node) => {
  const look = (): void => {
    if (node.scrollHeight > node.clientHeight + 1) node.tabIndex = 0;
    else node.removeAttribute("tabindex");
  };
  const sizes = new ResizeObserver(look);
  const watch = (): void => {
    sizes.disconnect();
    for (const each of [node, ...node.children]) sizes.observe(each);
    look();
  };
  const content = new MutationObserver(watch);
  content.observe(node, { childList: true });
  watch();
  return {
    destroy() {
      sizes.disconnect();
      content.disconnect();
    },
  };
};
