/**
 * Follows the server's stream of positions. When it is cut, that is told at once, and the stream is asked for again
 * after 1, 2, 4 ... 30 s; the first position of the new stream says that it runs. The browser's own way of asking
 * again is not used: it gives up for good where a proxy answers in between.
 */
export interface Stream {
  onmessage: ((event: { readonly data: unknown }) => void) | null;
  onerror: (() => void) | null;
  close(): void;
}

export interface Told {
  position(position: number): void;
  cut(): void;
}

/** What time and the network are made of; the tests give their own. */
export interface World {
  open(): Stream;
  later(act: () => void, ms: number): () => void;
}

const FIRST_MS = 1_000;
const MOST_MS = 30_000;

export const BROWSER: World = {
  open: () => new EventSource("/lead/changes") as Stream,
  later: (act, ms) => {
    const timer = setTimeout(act, ms);
    return () => clearTimeout(timer);
  },
};

/** Begins to follow. `now` asks again at once where it waits; `stop` ends it. */
export function follow(told: Told, world: World = BROWSER): { now(): void; stop(): void } {
  let wait = FIRST_MS;
  let stream: Stream | undefined;
  let cancel: (() => void) | undefined;

  const begin = (): void => {
    cancel = undefined;
    const opened = world.open();
    stream = opened;
    opened.onmessage = ({ data }) => {
      const position = positionOf(data);
      if (position === undefined) return;
      wait = FIRST_MS;
      told.position(position);
    };
    opened.onerror = () => {
      if (stream !== opened) return;
      opened.close();
      stream = undefined;
      told.cut();
      cancel = world.later(begin, wait);
      wait = Math.min(MOST_MS, wait * 2);
    };
  };
  begin();
  return {
    now: () => {
      if (cancel === undefined) return;
      cancel();
      begin();
    },
    stop: () => {
      cancel?.();
      cancel = undefined;
      stream?.close();
      stream = undefined;
    },
  };
}

/** The position of one event, or nothing where it says none. */
export function positionOf(data: unknown): number | undefined {
  try {
    const value: unknown = JSON.parse(String(data));
    const position = typeof value === "object" && value !== null && "position" in value ? value.position : undefined;
    return typeof position === "number" && Number.isSafeInteger(position) ? position : undefined;
  } catch {
    return undefined;
  }
}
