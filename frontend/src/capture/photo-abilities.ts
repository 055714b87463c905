/**
 * What a camera lets us set, by what its track says of itself, never by its name: light, zoom, focus, brightness.
 * Names by W3C MediaStream Image Capture; TypeScript's DOM does not know them yet.
 */

export interface Range {
  readonly min: number;
  readonly max: number;
  readonly step: number;
}

/** A value that is set in a few big steps. */
export interface Slider {
  readonly range: Range;
  /** Where it stands; undefined where the camera does not say. */
  readonly at: number | undefined;
  /** Resolves to whether it obeyed. */
  to(value: number): Promise<boolean>;
}

/** What can be set; null where the camera has not got it. Each resolves to whether the camera obeyed. */
export interface Abilities {
  readonly torch: ((on: boolean) => Promise<boolean>) | null;
  readonly zoom: Slider | null;
  /** Focus by hand: the distance. */
  readonly focus: Slider | null;
  /** Focus by the camera itself, all the time. */
  readonly autofocus: (() => Promise<boolean>) | null;
  /** Focus on a place of the upright picture, 0 to 1 from the left and from above. */
  readonly focusAt: ((x: number, y: number) => Promise<boolean>) | null;
  /** Holds the brightness as it is, or lets it follow again. */
  readonly holdExposure: ((hold: boolean) => Promise<boolean>) | null;
}

/** What W3C's Image Capture adds to a track's capabilities and settings. */
interface Extras {
  readonly torch?: boolean;
  readonly zoom?: Range;
  readonly focusMode?: readonly string[];
  readonly focusDistance?: Range;
  readonly exposureMode?: readonly string[];
}

/** The steps from end to end that a gloved hand needs. */
export const STEPS = 8;

export function abilitiesOf(track: MediaStreamTrack): Abilities {
  // Firefox had no getCapabilities before 132.
  const has: Extras = typeof track.getCapabilities === "function" ? (track.getCapabilities() as Extras) : {};
  const set = (typeof track.getSettings === "function" ? track.getSettings() : {}) as Record<string, unknown>;
  const apply = async (setting: object): Promise<boolean> => {
    try {
      await track.applyConstraints({ advanced: [setting] });
      return true;
    } catch {
      return false;
    }
  };
  const modes = has.focusMode ?? [];
  const exposure = has.exposureMode ?? [];
  // A place to focus on is no capability: a camera that has it lists it among its settings.
  const once = modes.find((mode) => mode === "single-shot") ?? modes.find((mode) => mode === "continuous");
  return {
    torch: has.torch === true ? (on) => apply({ torch: on }) : null,
    zoom: slider(has.zoom, set["zoom"], (zoom) => apply({ zoom })),
    focus: modes.includes("manual") ? slider(has.focusDistance, set["focusDistance"], (focusDistance) => apply({ focusMode: "manual", focusDistance })) : null,
    autofocus: modes.includes("continuous") ? () => apply({ focusMode: "continuous" }) : null,
    focusAt: once !== undefined && "pointsOfInterest" in set ? (x, y) => apply({ focusMode: once, pointsOfInterest: [{ x, y }] }) : null,
    holdExposure:
      exposure.includes("manual") && exposure.includes("continuous") ? (hold) => apply({ exposureMode: hold ? "manual" : "continuous" }) : null,
  };
}

/** One big step from where it stands, up or down, never out of its range. */
export function stepped({ range }: Slider, at: number | undefined, by: 1 | -1): number {
  const { min, max, step } = range;
  const size = Math.max(step > 0 ? step : 0, (max - min) / STEPS);
  return Math.min(max, Math.max(min, (at ?? min) + by * size));
}

function slider(range: Range | undefined, at: unknown, to: (value: number) => Promise<boolean>): Slider | null {
  if (range === undefined || !(range.max > range.min)) return null;
  const held = (value: number): number => Math.min(range.max, Math.max(range.min, value));
  return { range, at: typeof at === "number" ? at : undefined, to: (value) => to(held(value)) };
}
