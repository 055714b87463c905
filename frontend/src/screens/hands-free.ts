/**
 * Work without touching the screen: command cards read by a reader, pedals that pose as keys. A card does what the
 * button that stands there would do; where it has no meaning it says so and does nothing.
 */
import "../parts/words-later";
import { cards } from "./hands-free-said.svelte";
import { say, type Key } from "../parts/words";
import { COMMANDS, type Command } from "../rules/codes";

/** What a screen did with a command: true = done, words = why not, false = no meaning here; or what it asks for first. */
export type Did = boolean | string | { readonly asks: string };

/** What stands on the screen, as far as a card or a pedal may act on it. */
export interface Target {
  readonly screen: { command(name: Command): Did } | null | undefined;
  readonly locked: boolean;
  /** Something lies over the screen that is asked about first. */
  readonly covered: boolean;
}

/** Does what a card or a pedal asks for, and says what came of it. Undefined = a card this version does not know. */
export function act(name: Command | undefined, { screen, locked, covered }: Target): void {
  const read = name === undefined ? undefined : say(`card.${name}` as Key);
  if (read === undefined || name === undefined) return cards.say(say("card.unknown"), say("card.did_nothing"), false);
  if (locked) return cards.say(read, say("lock.badge_first"), false);
  if (typing(document.activeElement)) return cards.say(read, say("card.typing"), false);
  const did = covered ? say("card.covered") : (screen?.command(name) ?? false);
  if (did === true) return cards.say(read, undefined, true);
  if (typeof did === "object") return cards.say(read, did.asks, true);
  return cards.say(read, did === false ? say("card.no_meaning") : did, false);
}

const NO_TEXT: readonly string[] = ["button", "checkbox", "color", "file", "hidden", "image", "radio", "range", "reset", "submit"];

/** Somebody is writing by hand: nothing may happen under their fingers. The reader's own hidden field is no such field. */
export function typing(element: Element | null): boolean {
  if (element instanceof HTMLTextAreaElement) return true;
  return element instanceof HTMLInputElement && !NO_TEXT.includes(element.type) && !element.hasAttribute("data-wedge");
}

/** Which of the numbered choices a card asks for, from 0; -1 where it asks for none. */
export function answerOf(name: Command): number {
  return name.startsWith("answer-") ? Number(name.slice("answer-".length)) - 1 : -1;
}

const MOST = COMMANDS.filter((name) => name.startsWith("answer-")).length;

/** The card for a choice, shown on it once cards are in use. */
export function numberOf(index: number): string | undefined {
  return cards.used && index < MOST ? say("card.number", { n: index + 1 }) : undefined;
}

/** A choice with the number of its card before it. */
export function numbered(index: number, label: string): string {
  return cards.used && index < MOST ? say("card.numbered", { n: index + 1, label }) : label;
}
