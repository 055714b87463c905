/**
 * Follows the server's stream of positions. When it is cut, that is told at once, and the stream is asked for again
 * after 1, 2, 4 ... 30 s; the first position of the new stream says that it runs.
 *
 * Read by `fetch`, not by EventSource: that hides the lines by which the server says each 15 s that it is still
 * there, so a network that goes without a word would look like a quiet day; and it gives up for good where a proxy
 * answers in between.
 */
export interface Stream {
  /** Ends it; nothing is told afterwards. */
  close(): void;
}

export interface Heard {
  /** The data of one event; undefined for a line that only says "still here". */
  word(data: string | undefined): void;
  /** It ended, was refused, or somebody else answered. */
  end(): void;
}

export interface Told {
  position(position: number): void;
  /** A word without news. */
  still(): void;
  cut(): void;
}

/** What time and the network are made of; the tests give their own. */
export interface World {
  open(heard: Heard): Stream;
  later(act: () => void, ms: number): () => void;
}

const FIRST_MS = 1_000;
const MOST_MS = 30_000;
/** The server says something each 15 s: twice that, and a little. */
export const SILENCE_MS = 35_000;

export const BROWSER: World = {
  open: (heard) => openStream(heard),
  later: (act, ms) => {
    const timer = setTimeout(act, ms);
    return () => clearTimeout(timer);
  },
};

/** `now` asks again at once where it waits; `lost` gives the stream up, as when the browser says there is no network. */
export interface Following {
  now(): void;
  lost(): void;
  stop(): void;
}

export function follow(told: Told, world: World = BROWSER): Following {
  let wait = FIRST_MS;
  let stream: Stream | undefined;
  let again: (() => void) | undefined;
  let silence: (() => void) | undefined;

  const quiet = (): void => {
    silence?.();
    silence = undefined;
  };
  const cut = (): void => {
    quiet();
    stream?.close();
    stream = undefined;
    told.cut();
    again = world.later(begin, wait);
    wait = Math.min(MOST_MS, wait * 2);
  };
  const begin = (): void => {
    again = undefined;
    const mine = world.open({
      word: (data) => {
        if (stream !== mine) return;
        quiet();
        silence = world.later(cut, SILENCE_MS);
        const position = data === undefined ? undefined : positionOf(data);
        if (position === undefined) return told.still();
        wait = FIRST_MS;
        told.position(position);
      },
      end: () => {
        if (stream === mine) cut();
      },
    });
    stream = mine;
    silence = world.later(cut, SILENCE_MS);
  };
  begin();
  return {
    now: () => {
      if (again === undefined) return;
      again();
      begin();
    },
    lost: () => {
      if (stream !== undefined) cut();
    },
    stop: () => {
      quiet();
      again?.();
      again = undefined;
      stream?.close();
      stream = undefined;
    },
  };
}

/** The position of one event, or nothing where it says none. */
export function positionOf(data: string): number | undefined {
  try {
    const value: unknown = JSON.parse(data);
    const position = typeof value === "object" && value !== null && "position" in value ? value.position : undefined;
    return typeof position === "number" && Number.isSafeInteger(position) ? position : undefined;
  } catch {
    return undefined;
  }
}

/** The words of an event stream (WHATWG HTML, 9.2.6), as far as the server uses it: one `data:` line an event, comments. */
export function wordsOf(lines: readonly string[]): (string | undefined)[] {
  return lines.filter((line) => line !== "").map((line) => (line.startsWith("data:") ? line.slice(5).trimStart() : undefined));
}

function openStream(heard: Heard): Stream {
  const stop = new AbortController();
  void read(heard, stop.signal).catch(() => undefined).then(() => {
    if (!stop.signal.aborted) heard.end();
  });
  return { close: () => stop.abort() };
}

async function read(heard: Heard, signal: AbortSignal): Promise<void> {
  const reply = await fetch("/lead/changes", { headers: { "X-Loupebook": "1" }, cache: "no-store", credentials: "same-origin", redirect: "error", signal });
  if (reply.status !== 200 || reply.headers.get("x-loupebook") !== "1" || reply.body === null) return;
  const reader = reply.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (let piece = await reader.read(); !piece.done && !signal.aborted; piece = await reader.read()) {
    const lines = (rest + piece.value).split("\n");
    rest = lines.pop() ?? "";
    for (const word of wordsOf(lines)) heard.word(word);
  }
}
