/** Keys of a radio group (ARIA Authoring Practices, radio group pattern). */

/**
 * The index that a key moves to in a group of `count` radios inside `group`, or null for any other key.
 * Right and down go on, left and up go back, both round the end; left and right follow the reading direction.
 */
export function step(event: KeyboardEvent, count: number, group: HTMLElement | undefined): number | null {
  if (group === undefined || count === 0) return null;
  const at = [...group.querySelectorAll<HTMLElement>("[role=radio]")].indexOf(document.activeElement as HTMLElement);
  return move(event.key, at, count, getComputedStyle(group).direction === "rtl");
}

/** As `step`, with everything given. `at` is -1 where none has the focus. */
export function move(key: string, at: number, count: number, rtl: boolean): number | null {
  const from = Math.max(0, at);
  switch (key) {
    case "ArrowDown": return (from + 1) % count;
    case "ArrowUp": return (from - 1 + count) % count;
    case "ArrowRight": return (from + (rtl ? -1 : 1) + count) % count;
    case "ArrowLeft": return (from + (rtl ? 1 : -1) + count) % count;
    case "Home": return 0;
    case "End": return count - 1;
    default: return null;
  }
}
