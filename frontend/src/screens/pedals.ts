/** Pedals that pose as keys: which key asks for what, learned by pressing, kept on this tablet. */
import { FOOT_KEYS } from "../capture/wedge-reader";
import { COMMANDS, type Command } from "../rules/codes";

const KEPT = "loupebook.pedals";
/** Keys that people and readers write with, or leave a screen by, are nobody's pedal. */
const NOT_A_PEDAL: readonly string[] = [
  "Enter", "Tab", "Escape", "Backspace", "Delete", "Shift", "Control", "Alt", "AltGraph", "Meta", "CapsLock", "NumLock", "Fn", "Unidentified", "Process", "Dead",
];

/** What the reader of keys looks into at every press; empty while a pedal is being learned. */
export const pedalKeys: Record<string, Command> = {};
put(kept());

function put(keys: Readonly<Record<string, Command>>): void {
  for (const key of Object.keys(pedalKeys)) delete pedalKeys[key];
  Object.assign(pedalKeys, keys);
}

/** Every pedal of this tablet: key -> command. Those that were learned take the place of the usual ones. */
export function kept(): Readonly<Record<string, Command>> {
  try {
    const found = JSON.parse(localStorage.getItem(KEPT) ?? "null") as Record<string, string> | null;
    if (found === null) return FOOT_KEYS;
    const known = Object.entries(found).filter((each): each is [string, Command] => COMMANDS.some((command) => command === each[1]));
    return Object.fromEntries(known);
  } catch {
    return FOOT_KEYS;
  }
}

/** The keys a command is asked for by. */
export function keysOf(command: Command): readonly string[] {
  return Object.entries(kept()).flatMap(([key, of]) => (of === command ? [key] : []));
}

export function mayBePedal(key: string): boolean {
  return [...key].length > 1 && !NOT_A_PEDAL.includes(key);
}

/** `key` asks for `command` from now on, and for nothing else; the command's other keys go. Undefined: no pedal. */
export function keep(command: Command, key: string | undefined): void {
  const others = Object.entries(kept()).filter(([each, of]) => of !== command && each !== key);
  const keys = Object.fromEntries(key === undefined ? others : [...others, [key, command]]);
  localStorage.setItem(KEPT, JSON.stringify(keys));
  put(keys);
}

/** Waits for the next key that may be a pedal; `tell` hears it, or undefined for Escape. The answer ends the wait. */
export function learn(tell: (key: string | undefined) => void): () => void {
  put({});
  const down = (event: KeyboardEvent): void => {
    if (event.key !== "Escape" && !mayBePedal(event.key)) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    end();
    tell(event.key === "Escape" ? undefined : event.key);
  };
  const end = (): void => {
    window.removeEventListener("keydown", down, { capture: true });
    put(kept());
  };
  window.addEventListener("keydown", down, { capture: true });
  return end;
}
