/**
 * Our own labels: `LB1:` and plain ASCII, so that every reader gives the same text.
 * `LB1:S:<scope tag or key>`, `LB1:T:<tool>`, `LB1:P:<badge>`, `LB1:C:<command>`, `LB1:L:<place, percent-encoded>`,
 * `LB1:R:<a word of a repair, its hash>`, `LB1:E:<server address>|<one-time code>` and
 * `LB1:O:<offer>|<chain>|<seq>|<ms>|<giver>|<to>|<basis>|<scope, percent-encoded>`: what a giver's screen shows of an
 * offer, so that who takes it knows it without a network. Twin: `codes_own.py`.
 */
import type { Form, Found, Own } from "./codes-shape";
import { COMMANDS } from "./codes-shape";

const LONGEST = 300;
const LONGEST_OFFER = 1200;
const LABEL = /^LB1:([STPCERLO]):([\x20-\x7e]{1,1200})$/;
const OFFER = /^([0-9a-f]{64})\|([0-9a-f]{64})\|([0-9]{1,10})\|([0-9]{1,15})\|([a-z0-9_.-]{1,64})\|([a-z0-9_.-]{0,64})\|((?:[0-9a-f]{64})?)\|([^|]{1,900})$/;

/** A text as a label may carry it: percent-encoded (RFC 3986, UTF-8). */
export function encoded(text: string): string {
  return encodeURIComponent(text);
}

function decoded(text: string): string | undefined {
  try {
    return decodeURIComponent(text);
  } catch {
    return undefined;
  }
}

/** An offer as a giver's screen shows it. `to` and `basis` are empty where nobody is named and nothing was known. */
export interface ShownOffer {
  readonly offer: string;
  readonly chain: string;
  readonly seq: number;
  readonly at_ms: number;
  readonly giver: string;
  readonly to: string;
  readonly basis: string;
  readonly scope: string;
}

/** The text of an offer's code. */
export function offerText(shown: ShownOffer): string {
  return `LB1:O:${[shown.offer, shown.chain, shown.seq, shown.at_ms, shown.giver, shown.to, shown.basis, encoded(shown.scope)].join("|")}`;
}

/** What the value of an `LB1:O:` code says; undefined where it is none. */
export function shownOffer(value: string): ShownOffer | undefined {
  const [, offer = "", chain = "", seq = "", ms = "", giver = "", to = "", basis = "", last = ""] = OFFER.exec(value) ?? [];
  const scope = offer === "" ? undefined : decoded(last);
  return scope === undefined ? undefined : { offer, chain, seq: Number(seq), at_ms: Number(ms), giver, to, basis, scope };
}

/** What a label of ours says and its form. */
export interface Label {
  readonly form: Form;
  readonly own?: Own;
}

/** Read a label of ours; null where the text is not ours, form "plain" where this build does not know it. */
export function readOwn(text: string, found: Found): Label | null {
  if (!text.startsWith("LB1:")) return null;
  const label = LABEL.exec(text);
  const read = label === null ? null : readValue(label[1] ?? "", label[2] ?? "");
  if (read === null) found.note("own_not_known");
  return read ?? { form: "plain" };
}

function readValue(letter: string, value: string): Label | null {
  if (value.length > (letter === "O" ? LONGEST_OFFER : LONGEST)) return null;
  if (letter === "C") {
    return COMMANDS.some((command) => command === value) ? { form: "command", own: { kind: "command", value } } : null;
  }
  if (letter === "E") {
    const bar = value.lastIndexOf("|");
    const address = value.slice(0, Math.max(bar, 0));
    const once = value.slice(bar + 1);
    return address === "" || once === "" ? null : { form: "enrol", own: { kind: "enrol", value: address, once } };
  }
  if (letter === "P") return { form: "badge", own: { kind: "person", value } };
  if (letter === "O") return shownOffer(value) === undefined ? null : { form: "own", own: { kind: "offer", value } };
  if (letter === "L") {
    const place = decoded(value);
    return place === undefined ? null : { form: "own", own: { kind: "place", value: place } };
  }
  if (letter === "R") return { form: "own", own: { kind: "repair", value } };
  return { form: "own", own: { kind: letter === "S" ? "scope" : "tool", value } };
}
