/** What a camera has shown it can do, remembered on this tablet by camera and tool. */

/** The best that is remembered of one camera with one tool in front of it. */
export interface Memory {
  note(crisp: number): void;
  /** 0 where it has shown too little yet. */
  best(): number;
}

/** Values remembered of one camera; a value is taken in each second at most. */
const REMEMBERED = 120;
/** Values from which they say something. */
const ENOUGH = 20;
/** The value under which this share of them lies is what the camera can do: one lucky frame in ten is no standard. */
const QUANTILE = 0.9;
const EACH_MS = 1_000;

/** Remembers nothing: for pictures whose camera is not known. */
export function noMemory(): Memory {
  return { note: () => undefined, best: () => 0 };
}

/** The memory of one camera with one tool, in `store` (localStorage): whole numbers, no picture, nothing of a person. */
export function memoryOf(
  camera: string,
  tool: string,
  store: Pick<Storage, "getItem" | "setItem"> = localStorage,
  now: () => number = () => performance.now(),
): Memory {
  const key = `loupebook.camera-shows.${camera}.${tool}`;
  const values = readValues(store.getItem(key));
  let last = -EACH_MS;
  let best = quantile(values);
  return {
    note(crisp) {
      if (now() - last < EACH_MS) return;
      last = now();
      values.push(crisp);
      if (values.length > REMEMBERED) values.shift();
      best = quantile(values);
      try {
        store.setItem(key, JSON.stringify(values));
      } catch {
        // a full store costs the memory of this camera, no more
      }
    },
    best: () => best,
  };
}

function quantile(values: readonly number[]): number {
  if (values.length < ENOUGH) return 0;
  return values.toSorted((a, b) => a - b)[Math.floor((values.length - 1) * QUANTILE)]!;
}

function readValues(text: string | null): number[] {
  try {
    const read: unknown = JSON.parse(text ?? "[]");
    return Array.isArray(read) ? read.filter((value): value is number => Number.isInteger(value)).slice(-REMEMBERED) : [];
  } catch {
    return [];
  }
}
