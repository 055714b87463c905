/** What runs from both ends of a channel showed of it, and what they leave, as a sentence. Pure. */
import type { SeenOfChannel } from "../rules/runs";
import { say } from "./words";

/** Centimetres as they stand on a borescope; a rest is named whole, never rounded away. */
const down = (mm: number): number => Math.floor(mm / 10);
const up = (mm: number): number => Math.ceil(mm / 10);

/** What was reached from each end; what was not seen, from the port; why two distances do not add up. */
export function seenWords(seen: SeenOfChannel): string {
  const ends = [
    seen.portMm === 0 ? "" : say("channel.seen_port", { cm: down(seen.portMm) }), seen.tipMm === 0 ? "" : say("channel.seen_tip", { cm: down(seen.tipMm) }),
  ].filter((words) => words !== "").join(" ");
  const estimated = seen.estimated ? say("channel.seen_estimated") : "";
  return [ends, restWords(seen), estimated].filter((words) => words !== "").join(" ");
}

function restWords({ why, unseen, lengthMm }: SeenOfChannel): string {
  switch (why) {
    case "through":
      return say("channel.seen_through");
    case "both_ends":
      return say("channel.seen_both", { cm: up(lengthMm ?? 0) });
    case "gap": {
      const [from, to] = unseen ?? [0, 0];
      return say("channel.seen_gap", { from: down(from), to: up(to), cm: up(to - from) });
    }
    case "no_length":
      return say("channel.seen_no_length");
    case "beyond":
      return say("channel.seen_beyond", { cm: up(lengthMm ?? 0) });
    case "none":
      return "";
  }
}
