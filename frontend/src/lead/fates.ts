/** How a row's fate is said: its shape, its word, its reason as a sentence. Pure. */
import type { IconName } from "../parts/icons";
import { named } from "../parts/naming";
import { say } from "../parts/words";
import type { Fate, FateName, Remark } from "./form";
import { worded } from "./shown";

export const FATE_ICON: Readonly<Record<FateName, IconName>> = {
  new: "plus", known: "tag", changes: "next", same: "done", duplicate: "minus", refused: "not_heard",
};

export const columnName = (column: string): string => worded(`bring.column.${column}`, {}, column);

/** A note or a reason as a sentence. */
export function remarkWords(remark: Remark): string {
  const params = {
    column: remark.column === undefined ? "" : columnName(remark.column), found: remark.found ?? "", expected: remark.expected ?? "", word: remark.word ?? "",
    nearest: remark.nearest === undefined ? "" : named("kind", remark.nearest), missing: (remark.missing ?? []).map(columnName).join(", "),
    readings: (remark.readings ?? []).join(" / "), other: remark.other ?? "", row: remark.row ?? 0,
  };
  if (remark.code === "kind_unknown" && remark.nearest === undefined) return say("bring.remark.kind_unknown_far", params);
  if (remark.code === "roles_differ") return say("bring.remark.roles_differ", { found: rolesWords(remark.found), expected: rolesWords(remark.expected) });
  return worded(`bring.remark.${remark.code}`, params);
}

const rolesWords = (roles: string | undefined): string =>
  (roles ?? "").split(" ").filter((role) => role !== "").map((role) => worded(`role.${role}`)).join(", ");

const shownValue = (field: string, value: string): string => (value === "" ? say("bring.nothing") : field === "kind" ? named("kind", value) : value);

/** Everything that is to be said of a row, a sentence each. */
export function fateWords(fate: Fate): readonly string[] {
  return [
    ...(fate.of === undefined ? [] : [say("bring.same_as_row", { row: fate.of })]),
    ...(fate.reason === undefined ? [] : [remarkWords(fate.reason)]),
    ...(fate.changes ?? []).map(({ field, before, after }) =>
      say("bring.differs", { field: columnName(field), before: shownValue(field, before), after: shownValue(field, after) })),
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
  (fate.notes ?? []).some(({ code }) => code !== "gs1_read" && code !== "hibc_read");

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
