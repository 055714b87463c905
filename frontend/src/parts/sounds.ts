/**
 * Small sounds made here, no file: what was heard is always also shown in words and colour, and each can be switched
 * off for this station. Never for the network.
 */

/**
 * read: a code led somewhere, one short high note. refused: it did not, two low ones. saved: a soft low click.
 * Pitches and lengths are ours; not measured against the noise of a sink.
 */
export type Sound = "read" | "refused" | "saved";

interface Note {
  readonly hz: number;
  readonly at: number;
  readonly s: number;
}

const NOTES: Readonly<Record<Sound, readonly Note[]>> = {
  read: [{ hz: 1760, at: 0, s: 0.09 }],
  refused: [{ hz: 220, at: 0, s: 0.14 }, { hz: 220, at: 0.2, s: 0.14 }],
  saved: [{ hz: 392, at: 0, s: 0.05 }],
};
/** Milliseconds on and off; only where the device can, and never alone. */
const SHAKES: Readonly<Record<Sound, readonly number[]>> = { read: [20], refused: [40, 60, 40], saved: [20] };
const LOUD = 0.2;
const KEY = "loupebook.sounds";

/** On until somebody at this station switches them off. */
export const soundsOn = (): boolean => localStorage.getItem(KEY) !== "off";
export function setSounds(on: boolean): void {
  localStorage.setItem(KEY, on ? "on" : "off");
}

/** Switched by a person: switched on, it is heard at once. */
export function switchSounds(on: boolean): void {
  setSounds(on);
  if (on) sound("read");
}

let context: AudioContext | undefined;

/** Makes the sound and shakes the tablet, where a person has touched this page: before, a browser allows neither. */
export function sound(what: Sound): void {
  if (!soundsOn() || !navigator.userActivation.hasBeenActive) return;
  if (typeof navigator.vibrate === "function") navigator.vibrate([...SHAKES[what]]);
  try {
    context ??= new AudioContext();
    void context.resume();
    for (const note of NOTES[what]) play(context, note);
  } catch {
    // No sound device: what it would have said is on the screen.
  }
}

function play(to: AudioContext, { hz, at, s }: Note): void {
  const [tone, gain] = [to.createOscillator(), to.createGain()];
  const from = to.currentTime + at;
  tone.frequency.value = hz;
  // Up and down in 8 ms each, so that it does not crackle.
  gain.gain.setValueAtTime(0, from);
  gain.gain.linearRampToValueAtTime(LOUD, from + 0.008);
  gain.gain.setValueAtTime(LOUD, from + s - 0.008);
  gain.gain.linearRampToValueAtTime(0, from + s);
  tone.connect(gain).connect(to.destination);
  tone.start(from);
  tone.stop(from + s);
}
