/** Says on the page itself whether anything is still under way: `<html data-settled>` is there when nothing is. */

let underWay = 0;

function show(): void {
  document.documentElement.toggleAttribute("data-settled", underWay === 0);
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
