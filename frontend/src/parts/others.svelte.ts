/** Who else worked at this station lately, for the bar of every screen: one tap goes on as them. */
import type { PersonFacts } from "./types";

class Others {
  /** The newest first, without the one who is here. */
  now = $state.raw<readonly PersonFacts[]>([]);
  /** Set while a screen of the sink stands; the desk has none. */
  choose = $state.raw<(person: string) => void>();
}
export const others = new Others();
