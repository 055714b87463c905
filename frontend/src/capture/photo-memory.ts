/** What a camera has shown it can do, remembered on this tablet by camera and tool. */

/** What is remembered of one camera with one tool in front of it. Both numbers are 0 where it has shown too little yet. */
export interface Memory {
  /** Of one frame: its `crisp`, and its veil (thousandths that its darkest grey is of its brightest). */
  note(crisp: number, veil: number): void;
  /** The `crisp` it can show. */
  best(): number;
  /** The veil it shows over what it usually sees. */
  veil(): number;
}

/** Values remembered of one camera; a value is taken in each second at most. */
const REMEMBERED = 120;
/** Values from which they say something. */
const ENOUGH = 20;
/** The value under which this share of them lies is what the camera can do: one lucky frame in ten is no standard. */
const QUANTILE = 0.9;
/** The same of the veil: low, since a lens that was fogged for minutes is no standard either. */
const VEIL_QUANTILE = 0.25;
const EACH_MS = 1_000;

/** Remembers nothing: for pictures whose camera is not known. */
export function noMemory(): Memory {
  return { note: () => undefined, best: () => 0, veil: () => 0 };
}

/** The memory of one camera with one tool, in `store` (localStorage): whole numbers, no picture, nothing of a person. */
export function memoryOf(
  camera: string,
  tool: string,
  store: Pick<Storage, "getItem" | "setItem"> = localStorage,
  now: () => number = () => performance.now(),
): Memory {
  const crisps = new Remembered(`loupebook.camera-shows.${camera}.${tool}`, QUANTILE, store);
  const veils = new Remembered(`loupebook.camera-veil.${camera}.${tool}`, VEIL_QUANTILE, store);
  let last = -EACH_MS;
  return {
    note(crisp, veil) {
      if (now() - last < EACH_MS) return;
      last = now();
      crisps.note(crisp);
      veils.note(veil);
    },
    best: () => crisps.at,
    veil: () => veils.at,
  };
}

/** The last values under one key, and the one under which a share of them lies. */
class Remembered {
  readonly #values: number[];
  at: number;

  constructor(
    readonly key: string,
    readonly share: number,
    readonly store: Pick<Storage, "getItem" | "setItem">,
  ) {
    this.#values = readValues(store.getItem(key));
    this.at = quantile(this.#values, share);
  }

  note(value: number): void {
    this.#values.push(value);
    if (this.#values.length > REMEMBERED) this.#values.shift();
    this.at = quantile(this.#values, this.share);
    try {
      this.store.setItem(this.key, JSON.stringify(this.#values));
    } catch {
      // a full store costs the memory of this camera, no more
    }
  }
}

function quantile(values: readonly number[], share: number): number {
  if (values.length < ENOUGH) return 0;
  return values.toSorted((a, b) => a - b)[Math.floor((values.length - 1) * share)]!;
}

function readValues(text: string | null): number[] {
  try {
    const read: unknown = JSON.parse(text ?? "[]");
    return Array.isArray(read) ? read.filter((value): value is number => Number.isInteger(value)).slice(-REMEMBERED) : [];
  } catch {
    return [];
  }
}
