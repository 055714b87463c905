/**
 * Our own labels: `LB1:` and plain ASCII, so that every reader gives the same text.
 * `LB1:S:<scope tag or key>`, `LB1:T:<tool>`, `LB1:P:<badge>`, `LB1:C:<command>`,
 * `LB1:R:<a word of a repair, its hash>` and `LB1:E:<server address>|<one-time code>`. Twin: `codes_own.py`.
 */
import type { Form, Found, Own } from "./codes-shape";
import { COMMANDS } from "./codes-shape";

const LABEL = /^LB1:([STPCER]):([\x20-\x7e]{1,300})$/;

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
  if (letter === "R") return { form: "own", own: { kind: "repair", value } };
  return { form: "own", own: { kind: letter === "S" ? "scope" : "tool", value } };
}
