/** How the rows of a shift's board are said: what stands open, where it is settled, and what is offered in one tap. */
import type { IconName } from "../parts/icons";
import { named } from "../parts/names";
import { readingName } from "../parts/readings";
import { longSaid } from "../parts/stands";
import { say, type Key } from "../parts/words";
import type { Goes } from "../parts/types";
import type { AskedRow, Shift, ShiftRow } from "./answers";
import { askedSaid, officesSaid } from "./hold-words";
import { entryName, goesWords, nameOf, pointName, scopeName, shiftWords } from "./shown";
import { whenOf } from "./times";
import type { Where } from "./where";

const ICONS: Readonly<Record<ShiftRow["sort"], IconName>> = {
  inspection: "begin", photos: "camera", aside: "minus", hold: "goes_hold", offer: "goes_repair", tool: "scan", station: "not_heard",
  skipped: "not_looked", received: "not_looked", late: "tablet", asked: "keys",
};
export const iconOf = (row: ShiftRow): IconName => ICONS[row.sort];

const text = (value: unknown): string | undefined => (typeof value === "string" ? value : undefined);
const count = (value: unknown): number => (typeof value === "number" ? value : 0);

function scopeOf({ about, of, sort }: ShiftRow, page: Shift): string {
  const key = text(about["scope"]) ?? (sort === "received" || sort === "offer" ? of : undefined);
  return scopeName(key === undefined ? null : (page.scopes[key] ?? null));
}

/** What stands open, in one line. */
export function titleOf(row: ShiftRow, page: Shift, now: number): string {
  const { about, of, sort } = row;
  if (sort === "station") return say("shift.row.station", { name: page.stations[of] ?? of });
  if (sort === "tool") return say("shift.row.tool", { name: of });
  if (sort === "late") return say("shift.row.late", { count: count(about["entries"]), shift: shiftWords(text(about["shift"]) ?? "", new Date(now)) });
  if (sort === "aside") return say("shift.row.aside", { what: entryName(text(about["kind"]) ?? null) });
  if (sort === "photos") return say("shift.row.photos", { count: count(about["waiting"]), scope: scopeOf(row, page) });
  return say(`shift.row.${sort}`, { scope: scopeOf(row, page) });
}

/** When, by whom, and what else is known of it. */
export function noteOf(row: ShiftRow, page: Shift, now: number, zone: string | undefined): string {
  const { about, before } = row;
  const head = about["head"] as { readonly seq: number; readonly at: string } | null | undefined;
  const [person, at, ms] = [text(about["person"]), text(about["at"]), about["at_ms"] ?? about["used_ms"] ?? about["since_ms"]];
  const heard = text(about["heard_at"]);
  const told = [
    about["point"] === undefined ? "" : pointName(String(about["point"])),
    row.sort === "aside" && text(about["reason"]) !== undefined ? say(`aside.${String(about["reason"])}` as Key) : "",
    row.sort === "hold" && text(about["reason"]) !== undefined ? named("reason", String(about["reason"])) : "",
    row.sort === "hold" && Array.isArray(about["phoned"]) && about["phoned"].length > 0 ? say("hold.phone_waits", { goes: goesWords((about["phoned"] as readonly Goes[]).at(-1) ?? "hold", "").toLocaleLowerCase() }) : "",
    row.sort === "hold" && Array.isArray(about["waits"]) && about["waits"].length > 0 ? say("hold.told_waits", { offices: officesSaid(about["waits"] as readonly string[]) }) : "",
    row.sort === "asked" ? askedSaid({ what: String(about["what"]) as AskedRow["what"], to: text(about["to"]) ?? null, reason: text(about["reason"]) ?? "", drawn: false }, page.people) : "",
    row.sort === "skipped" && count(about["parts"]) > 0 ? say("desk.not_seen", { count: count(about["parts"]) }) : "",
    ...(row.sort === "skipped" && Array.isArray(about["tests"]) ? [(about["tests"] as readonly string[]).map(readingName).join(", ")] : []),
    person === undefined ? "" : nameOf(page.people, person),
    at === undefined || row.sort === "late" ? "" : whenOf(at, now, zone),
    typeof ms === "number" ? `${whenOf(ms, now, zone)} (${longSaid((now - ms) / 60_000)})` : "",
    row.sort === "station" ? (heard === undefined ? say("desk.never_heard") : say("desk.not_heard", { time: whenOf(heard, now, zone) })) : "",
    row.sort === "station" ? (head == null ? say("shift.no_head") : say("shift.head", { seq: head.seq, time: whenOf(head.at, now, zone) })) : "",
    before === null ? "" : say("shift.from", { shift: shiftWords(before.shift, new Date(now)), owner: before.owner === null ? say("shift.next_lead") : nameOf(page.people, before.owner) }),
    before?.reason ?? "",
  ];
  return told.filter((each) => each !== "").join(" · ");
}

/** Where it is settled: the button's words, and the screen. */
export function wayOf(row: ShiftRow): { readonly words: string; readonly where: Where } | undefined {
  const ways: Readonly<Partial<Record<ShiftRow["sort"], Where>>> = {
    inspection: { screen: "inspection", root: row.of }, photos: { screen: "inspection", root: row.of }, skipped: { screen: "inspection", root: row.of },
    hold: { screen: "hold", hold: row.of }, aside: { screen: "aside" }, offer: { screen: "where" }, station: { screen: "stations" },
    late: { screen: "closing", name: text(row.about["shift"]) ?? "" }, received: { screen: "scope", key: row.of }, asked: { screen: "history", key: text(row.about["scope"]) ?? "" },
  };
  const where = ways[row.sort];
  return where === undefined ? undefined : { words: say(row.sort === "hold" ? "hold.decide" : "shift.see"), where };
}

/** Who a thing goes to in one tap: whom it came over to, else who began it; nobody: the next lead. */
export function ownerOf(row: ShiftRow, page: Shift): string | undefined {
  const wanted = row.before?.owner ?? text(row.about["person"]);
  return page.people.some(({ id }) => id === wanted) ? wanted : undefined;
}

export const reasonOf = (row: ShiftRow): string => say(`shift.without.${row.sort}`);

/** How a row stands, where somebody answered it. */
export function answerSaid(row: ShiftRow, page: Shift, now: number, zone: string | undefined): string | undefined {
  if (row.state === "settled") return say("shift.settled");
  if (row.answer === null || row.state === "open") return undefined;
  const { answer, reason, owner, person, at } = row.answer;
  const who = owner === null ? say("shift.next_lead") : nameOf(page.people, owner);
  const what = answer === "carried" ? say("shift.carried_to", { who }) : say("shift.closed_without", { reason: reason ?? "" });
  return [what, answer === "carried" ? (reason ?? "") : "", nameOf(page.people, person), whenOf(at, now, zone)].filter((each) => each !== "").join(" · ");
}
