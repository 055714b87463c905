/** How a row's fate is said: its shape, its word, its reason as a sentence. Pure. */
import type { IconName } from "../parts/icons";
import { named, opening } from "../parts/naming";
import { say } from "../parts/words";
import { mmOfUm } from "../rules/units";
import type { Fate, FateName, Remark, SizeRead } from "./form";
import { worded } from "./shown";

export const FATE_ICON: Readonly<Record<FateName, IconName>> = {
  new: "plus", known: "tag", changes: "next", same: "done", duplicate: "minus", refused: "not_heard",
};

/** The two columns of each channel are named after it. */
export function columnName(column: string): string {
  const [what = "", channel] = column.split(":");
  if (channel === undefined) return worded(`bring.column.${column}`, {}, column);
  return worded(`bring.column.of_channel.${what}`, { channel: opening(named("part", channel)) }, column);
}

/** Remarks whose words are ids of parts and channels, and of kinds. */
const OF_PARTS = new Set(["channel_not_of_kind", "none_but_sized"]);

/** A note or a reason as a sentence. */
export function remarkWords(remark: Remark): string {
  const [word, found] = [remark.word ?? "", remark.found ?? ""];
  const params = {
    column: remark.column === undefined ? "" : columnName(remark.column), expected: remark.expected ?? "",
    word: OF_PARTS.has(remark.code) ? named("part", word) : word,
    found: remark.code === "kind_read" ? named("kind", found) : remark.code === "part_read" ? named("part", found) : found,
    nearest: remark.nearest === undefined ? "" : named(remark.code === "part_unknown" ? "part" : "kind", remark.nearest), missing: (remark.missing ?? []).map(columnName).join(", "),
    readings: (remark.readings ?? []).join(" / "), other: remark.other ?? "", row: remark.row ?? 0,
  };
  if (remark.code === "kind_unknown" && remark.nearest === undefined) return say("bring.remark.kind_unknown_far", params);
  if (remark.code === "part_unknown" && remark.nearest === undefined) return say("bring.remark.part_unknown_far", params);
  if (remark.code === "roles_differ") return say("bring.remark.roles_differ", { found: rolesWords(remark.found), expected: rolesWords(remark.expected) });
  return worded(`bring.remark.${remark.code}`, params);
}

const rolesWords = (roles: string | undefined): string =>
  (roles ?? "").split(" ").filter((role) => role !== "").map((role) => worded(`role.${role}`)).join(", ");

function shownValue(field: string, value: string): string {
  if (value === "") return say("bring.nothing");
  if (field === "kind") return named("kind", value);
  if (field === "none_here") return value.split(" ").map((part) => named("part", part)).join("; ");
  return field.startsWith("reach:") ? worded(`sizes.reach_${value}`, {}, value) : value;
}

/** A channel as its sizes were understood. */
function sizeWords({ channel, inner_um, length_mm, reach }: SizeRead): string {
  const said = [
    inner_um === undefined ? "" : say("bring.size_inner", { mm: mmOfUm(inner_um) }), length_mm === undefined ? "" : say("bring.size_length", { mm: length_mm }),
    reach === undefined ? "" : worded(`sizes.reach_${reach}`),
  ];
  return say("bring.size", { channel: opening(named("part", channel)), sizes: said.filter((words) => words !== "").join(", ") });
}

/** Everything that is to be said of a row, a sentence each. */
export function fateWords(fate: Fate): readonly string[] {
  return [
    ...(fate.of === undefined ? [] : [say("bring.same_as_row", { row: fate.of })]),
    ...(fate.reason === undefined ? [] : [remarkWords(fate.reason)]),
    ...(fate.changes ?? []).map(({ field, before, after }) =>
      say("bring.differs", { field: columnName(field), before: shownValue(field, before), after: shownValue(field, after) })),
    ...(fate.sizes ?? []).map(sizeWords),
    ...(fate.none_here === undefined ? [] : [say("bring.none_here", { parts: fate.none_here.map((part) => named("part", part)).join("; ") })]),
    ...(fate.notes ?? []).map(remarkWords),
  ];
}

/** What the row is: kind and serial number of a scope, what a person does here. */
export function whatWords(fate: Fate, what: "scopes" | "people"): string {
  if (what === "people") return rolesWords(fate.kind);
  return [fate.kind === undefined ? "" : named("kind", fate.kind), fate.serial === undefined ? "" : say("bring.serial", { serial: fate.serial })]
    .filter((words) => words !== "").join(" · ");
}

/** Whether a person has to look at the row before it is written. */
export const asksForALook = (fate: Fate): boolean =>
  fate.fate === "refused" || fate.fate === "duplicate" || fate.fate === "changes" ||
  (fate.notes ?? []).some(({ code }) => !AS_MEANT.has(code));

/** Notes that only say how a cell was understood, where nothing else could be meant. */
const AS_MEANT = new Set(["gs1_read", "hibc_read", "kind_read", "part_read"]);

/** Words for kinds that nobody here knows, each with the rows it stands in and the nearest kind. */
export function unknownKinds(rows: readonly Fate[]): readonly { readonly word: string; readonly nearest: string | undefined; readonly rows: number }[] {
  const found = new Map<string, { word: string; nearest: string | undefined; rows: number }>();
  for (const { reason } of rows) {
    if (reason?.code !== "kind_unknown" || reason.word === undefined) continue;
    const one = found.get(reason.word) ?? { word: reason.word, nearest: reason.nearest, rows: 0 };
    found.set(reason.word, { ...one, rows: one.rows + 1 });
  }
  return [...found.values()];
}
