/** How rows of the server's answers are said on the desk. Pure: rows and a catalogue in, words and drawings out. */
import { named, opening, partName, shortDate, shortName } from "../parts/names";
import { firstIcon, goesIcon, type IconName } from "../parts/icons";
import { readingName, TEST_WORDS } from "../parts/readings";
import type { First, Goes, Laid, LinePart, MarksById, PolicyRow, ShownMark } from "../parts/types";
import { laidWords, together } from "../parts/laid";
import { amountWords } from "../parts/measured";
import { seenWords } from "../parts/seen-words";
import { isKey, say, sayMinutes, type Key } from "../parts/words";
import type { Catalogue } from "../rules/chain-catalogue";
import { seenOf } from "../rules/runs";
import { pressureText } from "../rules/units";
import { timeOf, whenOf } from "./times";
import type {
  By, ChannelRow, CycleRow, DecisionRow, FindingRow, FindingShort, HoldRow, Line, Page, Person, PhotoRow, Point, ReadingRow, Scope, SpokenRow, StopMark, StopShort, Taken,
} from "./answers";

/** The sentence of a key built from data; where the words lack it the word itself stands, so that it is seen. */
export function worded(key: string, params: Readonly<Record<string, string | number>> = {}, otherwise = key): string {
  return isKey(key) ? say(key, params) : otherwise;
}

export function scopeName(scope: Scope | null): string {
  if (scope === null) return say("desk.no_scope");
  const name = scope.tag ?? scope.serial ?? scope.key;
  return scope.kind === null ? name : say("scope.named", { kind: named("kind", scope.kind), name });
}

export const scopeShort = (scope: Scope): string => scope.tag ?? scope.serial ?? scope.key;
export const pointName = (point: string): string => named("point", point);
/** "Decontamination · 28 Nov · day": a shift is named by its place, the day it began on, and its own name. */
export function shiftWords(shift: string, now: Date): string {
  const [place, day, name] = shift.split("/");
  return place === undefined || day === undefined || name === undefined ? shift : [place, shortDate(`${day}T12:00:00Z`, now, "UTC"), name].join(" · ");
}

export const entryName = (kind: string | null): string => (kind === null ? say("desk.unread") : worded(`entry.${kind}`, {}, kind));

export function nameOf(people: readonly Person[], id: string | null): string {
  if (id === "server") return say("desk.server");
  return people.find((person) => person.id === id)?.name ?? id ?? say("desk.nobody");
}

export const markShown = (stop: Pick<StopShort, "mark" | "out_of_use">): ShownMark => (stop.mark === "finding" && stop.out_of_use ? "out_of_use" : stop.mark);

/** The route as the line draws it. Without a catalogue each part is a piece of tube: its marks are still right. */
export function lineOf(
  catalogue: Catalogue | undefined, kind: string | null, stops: readonly StopShort[],
): { readonly outside: readonly LinePart[]; readonly channels: readonly LinePart[]; readonly marks: MarksById } {
  const known = kind === null ? undefined : catalogue?.kinds[kind];
  const channelIds = new Set(known?.channels.map(({ id }) => id));
  const isChannel = (id: string): boolean => (known === undefined ? id.startsWith("ch_") : channelIds.has(id));
  const parts = stops.map(({ id }): LinePart => {
    const part = known?.parts.find((each) => each.id === id);
    return { id, name: partName(id), short: shortName(id), shape: isChannel(id) ? "channel" : (part?.shape ?? "tube"), zone: part?.zone };
  });
  return {
    outside: parts.filter(({ id }) => !isChannel(id)), channels: parts.filter(({ id }) => isChannel(id)),
    marks: Object.fromEntries(stops.map((stop) => [stop.id, markShown(stop)])),
  };
}

export const firstWords = (first: First): string => say(`first.${first}`);
export const goesWords = (goes: Goes, point: string): string => (goes === "on" ? worded(`goes.on.${point}`, {}, say("goes.on")) : say(`goes.${goes}`));

/** "Ready for use" is said only where a processing is on record; else that it is not. */
export const wordedPoint = (point: string, disinfection: unknown): string => (point === "before_use" && disinfection == null ? "before_use_unrecorded" : point);

export function goesShape(goes: Goes, point: string): IconName {
  return goes === "on" && point === "after_drying" ? "goes_hang" : goesIcon(goes);
}

/** One word with its shape. */
export interface Sign {
  readonly icon: IconName;
  readonly text: string;
  readonly tone?: "stop" | "find" | "act" | undefined;
}

/** How an inspection ended, in its two answers; what is not concluded says so. */
export function outcomeOf(line: Pick<Line, "state" | "first" | "goes" | "point" | "disinfection"> & { readonly open_parts?: number }): readonly Sign[] {
  if (line.state === "abandoned") return [{ icon: "minus", text: say("desk.abandoned") }];
  if (line.state === "begun" || line.first === null || line.goes === null) return [{ icon: "begin", text: say("desk.begun") }];
  const { first, goes, point } = line;
  return [
    { icon: firstIcon(first), text: firstWords(first) },
    { icon: goesShape(goes, point), text: goesWords(goes, wordedPoint(point, line.disinfection)), tone: goes === "on" ? undefined : "stop" },
    ...((line.open_parts ?? 0) > 0 ? [{ icon: "begin" as const, text: say("desk.still_open", { count: line.open_parts ?? 0 }) }] : []),
  ];
}

/** Findings of a list's line: out of use first and apart. */
export function findingSigns(findings: readonly FindingShort[]): readonly Sign[] {
  const words = (row: FindingShort): string => say("decide.finding", {
    part: opening(partName(row.part)), what: named("seen", row.finding).toLocaleLowerCase(), grade: say(`grade.${row.grade}`).toLocaleLowerCase(),
  });
  const sign = (row: FindingShort): Sign => ({ icon: row.out_of_use ? "out_of_use" : "finding", text: words(row), tone: row.out_of_use ? "stop" : "find" });
  return [...findings.filter((row) => row.out_of_use), ...findings.filter((row) => !row.out_of_use)].map(sign);
}

/** How long: "40 s", from two minutes on "21 min". */
export const secondsWords = (seconds: number): string => (seconds < 120 ? say("time.seconds", { n: seconds }) : sayMinutes(seconds / 60));

/** A place along the scope: "62 cm from the tip, read off". */
export function placeWords(row: Pick<FindingRow, "place_mm" | "place_end" | "place_known">): string {
  if (row.place_mm === null || row.place_end === null) return say("place.none");
  const place = say(`place.${row.place_end}`, { cm: Math.round(row.place_mm / 10) });
  return row.place_known === null ? place : `${place}, ${say(`place.${row.place_known}`).toLocaleLowerCase()}`;
}

export function findingSentence(row: FindingRow): string {
  return say("finding.sentence", {
    part: opening(partName(row.part)), what: named("seen", row.finding).toLocaleLowerCase(), grade: say(`grade.${row.grade}`).toLocaleLowerCase(),
    place: placeWords(row), since: say(`since.${row.since}`),
  });
}

/** What a reading showed, with its numbers and where. */
export function readingSentence(row: ReadingRow): string {
  if (row.result === "value") return [amountWords({ ...row }), row.meter ?? "", row.lot ?? "", row.note ?? ""].filter((text) => text !== "").join(" · ");
  const words = TEST_WORDS[row.result];
  const numbers = [
    row.pressure_pa === null ? "" : pressureText(row.pressure_pa, row.unit),
    row.held_s === null ? "" : say("desk.held_for", { time: secondsWords(row.held_s) }),
    row.value_thousandths === null ? "" : say("desk.value", { n: row.value_thousandths / 1000, unit: row.unit ?? "" }),
    row.parts.length === 0 ? "" : row.parts.map(partName).join(", "),
    row.zone === null ? "" : named("zone", row.zone),
    row.reason === null ? "" : named("reason", row.reason),
    row.steps.length === 0 ? "" : say("desk.steps", { count: row.steps.length }),
    row.note ?? "",
  ];
  return [words === undefined ? row.result : say(words), ...numbers].filter((text) => text !== "").join(" · ");
}

export function channelSentence(row: ChannelRow): string {
  const outcome: Readonly<Record<string, Key>> = { through: "channel.through", blocked: "channel.blocked", not_possible: "mark.could_not_look" };
  const words = [
    opening(partName(row.channel)), worded(outcome[row.outcome] ?? "", {}, row.outcome),
    row.way === null ? "" : say(row.way === "from_port" ? "channel.way_port" : "channel.way_tip"),
    row.reached_mm === null ? "" : say("place.cm", { cm: Math.round(row.reached_mm / 10) }),
    row.flow === null ? "" : worded(`flow.${row.flow}`, {}, row.flow), row.borescope ?? "",
    row.reason === null ? "" : named("reason", row.reason),
  ];
  return words.filter((text) => text !== "").join(" · ");
}

/** Of each channel a borescope went into and not through: what its runs of one tablet showed together, a sentence each. */
export function channelsSeen(page: Page): readonly string[] {
  const together = new Map<string, ChannelRow[]>();
  for (const row of page.channels.filter(({ outcome }) => outcome !== "not_possible")) {
    const of = `${row.by.chain} ${row.channel}`;
    together.set(of, [...(together.get(of) ?? []), row]);
  }
  return [...together.values()].flatMap((rows) => {
    const seen = seenOf(rows);
    return seen.why === "through" ? [] : [say("channel.seen_of", { channel: opening(partName(rows[0]?.channel ?? "")), seen: seenWords(seen) })];
  });
}

/** What stands laid over one photo, by whatever entries. */
export const laidOver = (page: Page, sha256: string): Laid => together(page.laid.filter(({ photo }) => photo === sha256));

/** Photos of a finding: those of its own entry, and those added to it later. */
export const photosOf = (entry: string, photos: readonly PhotoRow[]): readonly PhotoRow[] =>
  photos.filter((photo) => photo.by.entry === entry || photo.of_finding === entry);

/** What was told against a photo when it was taken: "not sharp, glare"; nothing where nothing was. */
export const toldWords = (taken: Taken | null): string => (taken?.told ?? []).map((each) => say(`photo.${each}`).toLocaleLowerCase()).join(", ");

/** Under a small photo: when it was taken, and what was told against it then. */
export function takenShort({ taken, by }: Pick<PhotoRow, "taken" | "by">, zone: string | undefined): string {
  return [timeOf(taken?.at ?? by.at, zone), toldWords(taken)].filter((words) => words !== "").join(" · ");
}

/** When, how and with what a photo was taken, how sharp it was, and what was told against it then. */
export function takenWords(taken: Taken | null, at: string | number, now: number, zone: string | undefined): string {
  const first = say("taken.at", { time: whenOf(taken?.at ?? at, now, zone) });
  if (taken === null) return opening(`${first}, ${say("taken.not_known")}`);
  const { way, of, sharp_permille, camera, tool } = taken;
  const how = [
    first, say(`taken.way.${way}`), tool === undefined ? "" : say("taken.with", { tool }),
    of === undefined ? "" : say("photo.numbers_of", { count: of }).replace(/^./, (letter) => letter.toLocaleLowerCase()),
    sharp_permille === undefined ? "" : say("photo.numbers_share", { percent: Math.round(sharp_permille / 10) }),
    camera === undefined ? "" : say("taken.camera", { camera }),
    toldWords(taken) || say("taken.nothing_told"),
  ];
  return opening(how.filter((words) => words !== "").join(", "));
}

export function proofWords(by: Pick<By, "how" | "proved">): string {
  return worded(`proof.${by.how}.${by.proved}`, {}, `${by.how}, ${by.proved}`);
}

const ids = (value: unknown): readonly string[] => (Array.isArray(value) ? value.map(String) : []);
const text = (value: unknown): string => (typeof value === "string" ? value : "");

const numberOf = (value: unknown): number => (typeof value === "number" ? value : 0);

/** An open point in words. What the words need of ids is said by name. */
export function pointWords(point: Point): string {
  const first = text(point["first"]);
  const goes = text(point["goes"]);
  const off = typeof point["off_ms"] === "number" ? point["off_ms"] : 0;
  return worded(`point_open.${point.what}`, {
    part: partName(text(point["part"])),
    mark: worded(`mark.said.${text(point["counts"])}`, {}, ""),
    first: worded(`first.${first}`, {}, first), goes: worded(`goes.${goes}`, {}, goes),
    time: sayMinutes(Math.abs(off) / 60_000),
    days: numberOf(point["days"]), source: opening(text(point["source"])),
    count: Math.max(numberOf(point["times"]), ids(point["entries"]).length, ids(point["parts"]).length, ids(point["scopes"]).length),
  }, point.what);
}

/** Where a scope waits, or which limit is past and since when. */
export function cycleWords(row: CycleRow, now: number, zone: string | undefined): string {
  const over = row.over.find(({ first }) => first === "whole") ?? row.over[0];
  if (over !== undefined) {
    const late = over.minutes === null ? say("home.over.unknown") : worded(`home.over.${over.span}`, { time: whenOf(over.from_ms, now, zone) });
    return say("desk.cycle.late", { late, source: over.source });
  }
  const params = { time: whenOf(row.since_ms, now, zone), for: sayMinutes((now - row.since_ms) / 60_000) };
  return row.first !== null && row.first !== "nothing" ? worded(`home.first_${row.first}`, params) : worded(`home.${row.phase}`, params);
}

/** Why a scope is held: the cause, and the reason where a person gave one. */
export function holdWords(hold: HoldRow): string {
  const cause = worded(`desk.hold.${hold.cause}`, {}, hold.cause);
  const tag = hold.tag_on === null ? "" : say(hold.tag_on ? "desk.tag_on" : "desk.tag_off");
  return [cause, hold.reason === null ? "" : named("reason", hold.reason), hold.note ?? "", tag].filter((words) => words !== "").join(" · ");
}

/** The rows of a policy that spoke for one of the two answers, with the finding or reading they spoke of. */
export function policyRows(page: Page, question: "first" | "goes"): readonly PolicyRow[] {
  return (page.suggested?.rows ?? []).flatMap((row): readonly PolicyRow[] => {
    const then = row[question];
    if (then === null || then === undefined || then === "nothing" || then === "on") return [];
    const fact = factOf(page, row);
    const note = say("decide.row", { words: opening(named("policy", row.row)), source: row.source ?? row.row });
    const fixed = row.override === false ? ` ${opening(say("decide.nobody"))}.` : "";
    return [{ mark: fact.mark, title: fact.title, note: note + fixed, then, thenLabel: question === "first" ? firstWords(then as First) : goesWords(then as Goes, page.point) }];
  });
}

function factOf(page: Page, row: SpokenRow): { readonly mark: ShownMark; readonly title: string } {
  const finding = page.findings.find((each) => each.entry === row.entry);
  if (finding !== undefined) return { mark: finding.out_of_use ? "out_of_use" : "finding", title: findingSentence(finding) };
  const reading = page.readings.find((each) => each.by.entry === row.entry);
  if (reading !== undefined) return { mark: reading.failed ? "out_of_use" : "could_not_look", title: `${readingName(reading.what)}: ${readingSentence(reading)}` };
  const run = page.channels.find((each) => each.by.entry === row.entry);
  if (run !== undefined) return { mark: "could_not_look", title: channelSentence(run) };
  return { mark: "could_not_look", title: say("desk.whole") };
}

/** One entry of the record, as the table of all of them shows it. */
export interface EntryLine {
  readonly by: By;
  readonly what: string;
}

/** Every entry that stands, in the order it was written (chain, seq), each once. */
export function everyEntry(page: Page): readonly EntryLine[] {
  const lines = new Map<string, EntryLine>();
  const add = (by: By, what: string): void => {
    const before = lines.get(by.version);
    lines.set(by.version, { by, what: before === undefined ? what : `${before.what}, ${what}` });
  };
  for (const row of page.parts) add(row.by, entryName("inspection.begun"));
  for (const row of page.serials) add(row.by, entryName("serial.photographed"));
  for (const { by, words } of marksByEntry(page)) add(by, words);
  for (const row of page.findings) add(row.by, findingSentence(row));
  for (const row of page.readings) add(row.by, `${readingName(row.what)}: ${readingSentence(row)}`);
  for (const row of page.channels) add(row.by, channelSentence(row));
  for (const row of page.laid) if (!lines.has(row.by.version)) add(row.by, `${entryName("photo.marked")}: ${laidWords(row)}`);
  for (const row of page.photos) if (!lines.has(row.by.version)) add(row.by, entryName("photo.added"));
  for (const row of page.decisions) add(row.by, decisionWords(row, page.point));
  const chains = [...new Set(page.parts.map((row) => row.by.chain))];
  const order = (by: By): number => (chains.indexOf(by.chain) + 1 || chains.length + 1) * 2 ** 40 + by.seq;
  return [...lines.values()].sort((a, b) => order(a.by) - order(b.by));
}

/** Marks as they were written: one entry may mark several parts, or a whole zone. */
function marksByEntry(page: Page): readonly { readonly by: By; readonly words: string }[] {
  const together = new Map<string, { readonly mark: StopMark; readonly parts: string[] }>();
  for (const stop of page.route) {
    for (const mark of stop.marks) {
      if (mark.mark === "finding") continue;
      const group = together.get(mark.by.version) ?? { mark, parts: [] };
      group.parts.push(stop.id);
      together.set(mark.by.version, group);
    }
  }
  return [...together.values()].map(({ mark, parts }) => {
    const answer = say(`mark.said.${mark.mark}`);
    if (mark.zone !== null) return { by: mark.by, words: say("zone.mark", { zone: named("zone", mark.zone), answer, count: parts.length }) };
    const reason = mark.reason === null ? "" : `, ${named("reason", mark.reason)}`;
    return { by: mark.by, words: `${opening(parts.map(partName).join(", "))}: ${answer}${reason}` };
  });
}

export function decisionWords(row: DecisionRow, point: string): string {
  if (row.ended !== "concluded" || row.first === null || row.goes === null) {
    return [entryName("inspection.abandoned"), row.reason === null ? "" : named("reason", row.reason), row.note ?? ""].filter((words) => words !== "").join(": ");
  }
  return say("decide.do_first", { first: firstWords(row.first), goes: goesWords(row.goes, wordedPoint(point, row.disinfection)).toLocaleLowerCase() });
}

/** What a replaced row said, in the shortest words that its kind has. */
export function beforeWords(row: Readonly<Record<string, unknown>>): string {
  if (typeof row["finding"] === "string" && typeof row["part"] === "string") return findingSentence(row as unknown as FindingRow);
  if (typeof row["part"] === "string" && typeof row["mark"] === "string") return `${opening(partName(row["part"]))}: ${worded(`mark.said.${row["mark"]}`)}`;
  if (typeof row["ended"] === "string") return decisionWords(row as unknown as DecisionRow, text(row["point"]));
  if (typeof row["what"] === "string" && typeof row["result"] === "string") return readingSentence(row as unknown as ReadingRow);
  if (typeof row["channel"] === "string") return channelSentence(row as unknown as ChannelRow);
  if (typeof row["agrees"] === "string") return worded(`desk.agrees.${row["agrees"]}`);
  return typeof row["point"] === "string" ? pointName(row["point"]) : say("desk.unread");
}
