/** What a code means here: which scope, whose badge, which command; or why nothing can be begun yet. */
import { findScope, people, toolOf, type Candidate, type PersonCard, type ScopeCard } from "../cards";
import { scopeOfRepair } from "../cards/repair";
import { shownOffer } from "../rules/codes-own";
import { keyOf, readCode, type Code, type Command, COMMANDS } from "../rules/codes";
import type { Where } from "./where";

export type Meeting =
  /** `tag` proves the tag only: the serial photo proves the scope. */
  | { readonly meets: "scope"; readonly scope: ScopeCard; readonly proves: "scope" | "tag"; readonly code: Code }
  /** More than one scope fits: a person chooses. */
  | { readonly meets: "several"; readonly candidates: readonly Candidate[]; readonly code: Code }
  /** A whole identity that no card has: the scope can be registered on the spot. */
  | { readonly meets: "unknown"; readonly code: Code; readonly key: string | null }
  /** A model without a serial number, or a code that must be asked about first. */
  | { readonly meets: "ask"; readonly why: "no_serial" | "separator" | "check"; readonly code: Code; readonly candidates: readonly Candidate[] }
  | { readonly meets: "person"; readonly person: PersonCard }
  /** Undefined: a card that asks for what this version does not know. */
  | { readonly meets: "command"; readonly command: Command | undefined }
  /** A borescope's own label, or a code it is on record under. */
  | { readonly meets: "tool"; readonly tool: string }
  /** A packet's or a label's own code: the repair of this scope. An offer on its giver's screen: the hand-over of it. */
  | { readonly meets: "opens"; readonly scope: string; readonly to: Where; readonly code: Code }
  | { readonly meets: "nothing"; readonly why: "tissue" | "not_ours" | "nobody" | "no_repair" | "place"; readonly code: Code };

/** How every command card begins. */
const CARD = "LB1:C:";

/** Reads a code and looks it up in the cards; works without a network. */
export async function meet(text: string, symbology: string | null, today: Date = new Date()): Promise<Meeting> {
  const code = readCode(text, symbology, today.getFullYear());
  switch (code.form) {
    case "command":
      return commandOf(code);
    case "badge":
      return personOf(code);
    case "iccbba":
      return { meets: "nothing", why: "tissue", code };
    case "enrol":
      return { meets: "nothing", why: "not_ours", code };
    default:
      return scopeOf(code);
  }
}

function commandOf(code: Code): Meeting {
  return { meets: "command", command: COMMANDS.find((each) => each === code.own?.value) };
}

async function personOf(code: Code): Promise<Meeting> {
  const person = (await people()).find((each) => each.person === code.own?.value);
  return person === undefined ? { meets: "nothing", why: "nobody", code } : { meets: "person", person };
}

async function scopeOf(code: Code): Promise<Meeting> {
  if (code.text.trim().startsWith(CARD)) return { meets: "command", command: undefined };
  if (code.own?.kind === "tool") return { meets: "tool", tool: code.own.value };
  if (code.own?.kind === "repair") {
    const scope = await scopeOfRepair(code.own.value);
    return scope === undefined ? { meets: "nothing", why: "no_repair", code } : { meets: "opens", scope, to: { screen: "repair", scope }, code };
  }
  if (code.own?.kind === "offer") {
    const offer = code.own.value;
    const shown = shownOffer(offer);
    return shown === undefined ? { meets: "nothing", why: "not_ours", code } : { meets: "opens", scope: shown.scope, to: { screen: "hand-over", scope: shown.scope, offer }, code };
  }
  if (code.own?.kind === "place") return { meets: "nothing", why: "place", code };
  if (code.own !== undefined && code.own.kind !== "scope") return { meets: "nothing", why: "not_ours", code };
  const asked = whyAsk(code);
  if (asked !== undefined) {
    const candidates = code.di === undefined ? [] : await findScope({ di: code.di });
    return { meets: "ask", why: asked, code, candidates };
  }
  const key = keyOf(code);
  const candidates = await findScope({
    ...(key === null ? {} : { key }),
    ...(code.own === undefined ? (key === null ? { code: code.text, tag: code.text, serial: code.text } : {}) : { key: code.own.value, tag: code.own.value }),
  });
  const [only, other] = candidates;
  if (only === undefined) {
    const tool = await toolOf(code.text);
    return tool === undefined ? { meets: "unknown", code, key } : { meets: "tool", tool: tool.tool };
  }
  if (other !== undefined && only.by !== "key") return { meets: "several", candidates, code };
  return { meets: "scope", scope: only.scope, proves: only.by === "key" && code.own === undefined ? "scope" : "tag", code };
}

function whyAsk(code: Code): "no_serial" | "separator" | "check" | undefined {
  const has = (note: string): boolean => code.notes.some((each) => each.note === note);
  if (has("separator_may_be_missing") || has("field_twice")) return "separator";
  if (code.check === "bad") return "check";
  return code.di !== undefined && code.serial === undefined ? "no_serial" : undefined;
}
