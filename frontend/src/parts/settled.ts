/** Says on the page itself whether anything is still under way: `<html data-settled>` is there when nothing is. */

let underWay = 0;
let waiting: (() => void)[] = [];

function show(): void {
  document.documentElement.toggleAttribute("data-settled", underWay === 0);
  if (underWay > 0) return;
  const now = waiting;
  waiting = [];
  for (const run of now) run();
}

/** Resolves at the next moment at which nothing is under way. */
export function whenSettled(): Promise<void> {
  return new Promise((resolve) => {
    waiting.push(resolve);
    setTimeout(show);
  });
}

/** Counts `work` as under way until it ends, however it ends; gives it back unchanged. */
export function until<T>(work: Promise<T>): Promise<T> {
  underWay += 1;
  show();
  const ended = (): void => {
    underWay -= 1;
    // What waited for this work runs first, so that what it begins is counted before the page says settled.
    setTimeout(show);
  };
  work.then(ended, ended);
  return work;
}
