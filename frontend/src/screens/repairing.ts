/** What is said of a repair on screens: how it came to be, what goes along, what its packet has. */
import { scopeByKey, type PersonCard } from "../cards";
import type { RepairHere } from "../cards/repair";
import type { RepairSaid } from "../cards/rows";
import { lastSerialPhoto } from "../cards/then";
import { inspectionState } from "../record";
import { laidBy } from "../parts/laid";
import { named, opening, partName } from "../parts/names";
import { whenSaid } from "../parts/stands";
import type { Laid } from "../parts/types";
import { say, type Key } from "../parts/words";
import { ofKind } from "../rules/facts";
import { type Policy, suggest } from "../rules/policy";
import { type Difference, differs, ITEMS, outFact, type RepairItem } from "../rules/repair";
import { contaminatedSaid, dayOf, digitsOf, priceSaid } from "../parts/repair-words";

export { contaminatedSaid, dayOf, differenceSaid, forSaid, goneOtherwiseSaid, ofSaid, overdue } from "../parts/repair-words";

const OPENERS: ReadonlySet<string> = new Set(["asked", "concluded", "by_phone", "leak_test", "decided", "opened"]);

export const nameIn = (people: readonly PersonCard[], id: unknown): string => people.find(({ person }) => person === id)?.name ?? String(id);

/** Whoever asked for it or opened it, each in a sentence, the oldest first. */
export function openersSaid({ said }: RepairHere, people: readonly PersonCard[], nowMs: number): readonly string[] {
  return said.filter(({ what }) => OPENERS.has(what)).map((word) => {
    const phone = word.said["phone"] as { readonly who?: string } | undefined;
    const lead = phone?.who === undefined ? "" : nameIn(people, phone.who);
    return say(`repair.said.${word.what}` as Key, { person: nameIn(people, word.person), lead, time: whenSaid(word.at_ms, nowMs) });
  });
}

/** What is wrong, in the words of those who said it. */
export function wordsSaid({ said }: RepairHere): readonly string[] {
  return said.filter(({ what }) => OPENERS.has(what)).map(({ said: body }) => String(body["words"] ?? body["reason"] ?? "").trim()).filter((words) => words !== "");
}

/** The newest of a step; several tablets may each have one. */
export function newestOf({ said, repair }: RepairHere, what: "statements" | "packings" | "shipments" | "returns"): RepairSaid | undefined {
  return said.filter(({ entry }) => repair[what].includes(entry)).at(-1);
}

/** A photo that goes along, with what it shows in words. */
export interface Carried {
  readonly sha256: string;
  readonly title: string;
  readonly laid: Laid | undefined;
}

/** What goes along, as it is known here: findings in words, and photos: of the number, the findings, the packed case. */
export interface Along {
  readonly findings: readonly string[];
  readonly photos: readonly Carried[];
}

/** Findings of the inspections that are named: this tablet's own as they stand, else those the scope's card brought. */
export async function alongOf(here: RepairHere): Promise<Along> {
  const { scope, said } = here;
  const begun = [...new Set(said.flatMap(({ inspections }) => inspections))];
  const [states, serial, card] = await Promise.all([Promise.all(begun.map((each) => inspectionState(each))), lastSerialPhoto(scope), scopeByKey(scope)]);
  const own = states.filter((state) => state !== undefined).flatMap((state) => ofKind(state.thread, "finding.recorded").map(({ body, photos }) => ({
    title: findingSaid(String(body["part"]), String(body["finding"]), String(body["grade"])),
    photos: photos.map(({ sha256 }) => ({ sha256, laid: laidBy(state.thread.live, sha256) })),
  })));
  const brought = (card?.parts ?? []).flatMap(({ part, finding, photo }) => (finding == null ? [] : [{
    title: findingSaid(part, finding.finding, finding.grade), photos: photo == null ? [] : [{ sha256: photo.sha256, laid: photo.laid }],
  }]));
  const found = own.length > 0 ? own : brought;
  const cases = newestOf(here, "packings")?.case ?? [];
  const photos = [
    ...(serial === undefined ? [] : [{ sha256: serial.sha256, title: say("repair.item.serial_photo"), laid: undefined }]),
    ...found.flatMap(({ title, photos: some }) => some.map((each) => ({ ...each, title }))),
    ...cases.map((sha256) => ({ sha256, title: say("repair.case_photo"), laid: undefined })),
  ];
  return { findings: found.map(({ title }) => title), photos: [...new Map(photos.map((each) => [each.sha256, each])).values()] };
}

function findingSaid(part: string, finding: string, grade: string): string {
  return say("decide.finding", { part: opening(partName(part)), what: named("seen", finding).toLocaleLowerCase(), grade: say(`grade.${grade}` as Key).toLocaleLowerCase() });
}

export interface ItemRow {
  readonly item: RepairItem;
  readonly has: boolean;
  readonly note: string;
}

/** The packet's items in order, each with what is known of it. */
export function itemsOf(here: RepairHere, people: readonly PersonCard[], serial: string): readonly ItemRow[] {
  const { repair } = here;
  const [statement, packing] = [newestOf(here, "statements"), newestOf(here, "packings")];
  const notes: Readonly<Record<RepairItem, string>> = {
    opened: repair.unconfirmed.length > 0 ? say("repair.unconfirmed") : "",
    serial_photo: serial,
    words: wordsSaid(here).map((words) => `“${words}”`).join(" "),
    decontaminated: statement === undefined ? "" : say("repair.by", { person: nameIn(people, statement.said["processed_by"]) }),
    label: contaminatedSaid(repair.contaminated),
    contents: packing === undefined ? "" : contentsSaid(packing),
    contact: String(packing?.said["contact"] ?? ""),
    case_photo: "",
  };
  return ITEMS.map((item) => ({ item, has: !repair.missing.includes(item), note: repair.missing.includes(item) && item !== "label" ? say(`repair.lacks.${item}`) : notes[item] }));
}

export function contentsSaid(packing: RepairSaid): string {
  const inside = (packing.said["accessories"] ?? []) as readonly { readonly what: string; readonly count: number }[];
  return inside.length === 0 ? say("repair.contents.none") : inside.map(({ what, count }) => say("repair.contents.one", { what, count })).join(", ");
}

/** What lies in a case by what was said of it, each name once. */
export function countedOf(said: Readonly<Record<string, unknown>>): readonly { readonly what: string; readonly count: number }[] {
  const counts = new Map<string, number>();
  for (const { what, count } of (said["accessories"] ?? []) as readonly { readonly what: string; readonly count: number }[]) counts.set(what, (counts.get(what) ?? 0) + count);
  return [...counts].map(([what, count]) => ({ what, count }));
}

/** A price as typed, in the smallest unit of its currency (ISO 4217); undefined where either is not understood. */
export function minorOf(price: string, currency: string): number | undefined {
  const code = currency.trim().toUpperCase();
  const typed = price.trim().replace(",", ".");
  if (!/^[A-Z]{3}$/.test(code) || !/^\d{1,7}(\.\d+)?$/.test(typed)) return undefined;
  const digits = digitsOf(code);
  const [whole = "0", part = ""] = typed.split(".");
  return part.length > digits ? undefined : Number(whole) * 10 ** digits + Number(part.padEnd(digits, "0") || "0");
}

/** What came back otherwise than it left: the newest return against the packing of the trip that it ends. */
export function differencesOf({ said, repair }: RepairHere): readonly Difference[] {
  const came = said.filter(({ entry }) => repair.returns.includes(entry)).at(-1);
  return came === undefined ? [] : differs(said.filter(({ what, entry }) => what === "packed" && came.over.includes(entry)).at(-1)?.said ?? {}, came.said);
}

/** The days that were said for its return, the newest word's; "" where nobody said one. */
export function expectedOf(here: RepairHere): string {
  const words = here.said.filter(({ entry, what }) => what === "noted" || here.repair.shipments.includes(entry));
  return String(words.filter(({ said }) => said["expected_back"] !== undefined).at(-1)?.said["expected_back"] ?? "");
}

/** How long it is out, in whole days, and why that is too long: past its day, past the facility's limit, or neither. */
export function outOf(here: RepairHere, policy: Policy | undefined, scopeKind: string, nowMs: number): { readonly days: number; readonly late: "day" | "limit" | undefined } | undefined {
  const left = here.said.filter(({ entry }) => here.repair.shipments.includes(entry)).map(({ at_ms }) => at_ms);
  if (left.length === 0) return undefined;
  const since = Math.min(...left);
  const expected = expectedOf(here);
  const over = policy !== undefined && suggest(policy, [outFact(since, scopeKind, nowMs) as Parameters<typeof suggest>[1][number]]).rows.length > 0;
  return { days: Math.max(0, Math.floor((nowMs - since) / 86_400_000)), late: expected !== "" && expected < dayOf(nowMs) ? "day" : over ? "limit" : undefined };
}

/** What happened outside, each in a sentence, the oldest first. */
export function tripSaid({ said, repair }: RepairHere, people: readonly PersonCard[], nowMs: number): readonly string[] {
  const replaced = new Set(said.map(({ basis }) => basis));
  return said.filter(({ what, entry }) => ["shipped", "noted", "approved", "returned"].includes(what) && !replaced.has(entry)).map((word) => {
    const [person, time] = [nameIn(people, word.person), whenSaid(word.at_ms, nowMs)];
    const { carrier, number, words, price_minor: minor, currency, reason, approved } = word.said as Readonly<Record<string, string | number | boolean | undefined>>;
    if (word.what === "shipped") return say(number === undefined ? "repair.trip.shipped" : "repair.trip.shipped_number", { carrier: String(carrier), number: String(number), time, person });
    if (word.what === "returned") return say("repair.trip.returned", { time, person });
    if (word.what === "approved") return say(approved === true ? "repair.trip.approved" : "repair.trip.declined", { person, time, reason: String(reason) });
    const price = typeof minor === "number" && typeof currency === "string" ? ` ${priceSaid(minor, currency)}` : "";
    const waits = repair.undecided.includes(word.entry) ? ` ${say("repair.trip.waits")}` : "";
    return `${say(word.said["estimate"] === true ? "repair.trip.estimate" : "repair.trip.noted", { words: String(words), time, person })}${price}${waits}`;
  });
}
