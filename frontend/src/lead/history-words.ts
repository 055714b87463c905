/** How the rows of one scope's life are said. Pure: a row and names in, words and a shape out. */
import type { IconName } from "../parts/icons";
import { named, opening, partName } from "../parts/names";
import { amountWords } from "../parts/measured";
import { TEST_WORDS } from "../parts/readings";
import { goneOtherwiseSaid } from "../parts/repair-words";
import { say } from "../parts/words";
import { pressureText } from "../rules/units";
import type { History, HistoryLook, HistoryReading, HistoryRow, Person } from "./answers";
import { askedSaid, wordSaid } from "./hold-words";
import { firstWords, goesWords, nameOf, pointName, secondsWords, wordedPoint, worded } from "./shown";

export function iconOf(row: HistoryRow): IconName {
  if (row.what === "hold") return "goes_hold";
  if (row.what === "repair") return "goes_repair";
  if (row.what === "custody") return "tag";
  if (row.what === "record") return "seal";
  if (row.what === "asked") return "keys";
  if (row.what === "step") return row.step === "hung" ? "goes_hang" : "next";
  if (row.out_of_use) return "out_of_use";
  return row.findings.length > 0 ? "finding" : row.state === "concluded" ? "nothing_found" : "begin";
}

export function titleOf(row: HistoryRow): string {
  if (row.what === "look") return pointName(row.point);
  if (row.what === "step") return opening(worded(`step.did.${row.step}`, {}, row.step));
  if (row.what === "record") return worded(`history.record.${row.said}`, {}, row.said);
  return say(`history.what.${row.what}`);
}

export function endingOf(row: HistoryLook): string {
  if (row.state === "abandoned") return say("desk.abandoned");
  if (row.state !== "concluded" || row.first === null || row.goes === null) return say("desk.begun");
  return say("decide.do_first", { first: firstWords(row.first), goes: goesWords(row.goes, wordedPoint(row.point, null)) });
}

export function foundIn(row: Pick<HistoryLook, "findings">): string {
  return row.findings.map((each) => say("decide.finding", {
    part: opening(partName(each.part)), what: named("seen", each.finding).toLocaleLowerCase(), grade: worded(`grade.${each.grade}`, {}, each.grade).toLocaleLowerCase(),
  })).join("; ");
}

export function noteOf(row: HistoryRow, people: readonly Person[]): string {
  if (row.what === "look") return [endingOf(row), foundIn(row) || say("sheet.no_finding_long"), nameOf(people, row.person)].join(" · ");
  if (row.what === "step") return [row.place, row.machine ?? "", row.cycle ?? "", nameOf(people, row.person)].filter((each) => each !== "").join(" · ");
  if (row.what === "hold") {
    const decided = row.decided.map((each) => say("history.decided", { goes: goesWords(each.goes, "").toLocaleLowerCase(), reason: each.reason, person: nameOf(people, each.person) }));
    const cause = row.reason === null ? worded(`history.cause.${row.cause}`, {}, row.cause) : named("reason", row.reason);
    return [opening(cause), row.note ?? "", ...row.said.map((each) => wordSaid(each, people)), ...decided].filter((each) => each !== "").join(". ");
  }
  if (row.what === "asked") {
    const answers = row.answers.map((each) => worded(`asked.did.${each.did}`, { person: nameOf(people, each.person), words: each.words ?? "" }, each.did));
    return [askedSaid({ what: row.asked, to: row.to, reason: row.reason, drawn: row.drawn }, people), ...answers].join(". ");
  }
  if (row.what === "repair") return [worded(`history.repair.${row.said}`, {}, row.said), row.words ?? "", ...(row.differs ?? []).map(goneOtherwiseSaid), nameOf(people, row.person)].filter((each) => each !== "").join(" · ");
  if (row.what === "custody") {
    const holder = row.holder === null || row.holder.kind === "house" ? say("custody.house") : row.holder.kind === "person" ? nameOf(people, row.holder.name) : row.holder.name;
    return worded(`where.tip.${row.said}`, { person: nameOf(people, row.person), holder }, row.said);
  }
  return nameOf(people, row.person);
}

/** What a reading showed, with its numbers, with which meter and lot, who. */
export function readingSaid(row: HistoryReading, people: readonly Person[]): string {
  const words = TEST_WORDS[row.result];
  return [
    row.result === "value" ? amountWords({ ...row }) : words === undefined ? row.result : say(words),
    row.pressure_pa === null ? "" : pressureText(row.pressure_pa, row.unit),
    row.held_s === null ? "" : say("desk.held_for", { time: secondsWords(row.held_s) }),
    row.meter ?? "", row.lot ?? "", row.reason === null ? "" : named("reason", row.reason), nameOf(people, row.person),
  ].filter((each) => each !== "").join(" · ");
}

/** The parts of the last look that nobody saw, each with its mark and the reasons given. */
export function unseenIn(look: NonNullable<History["last"]["look"]>): string {
  return look.unseen.map(({ part, mark, reasons }) => `${partName(part)} (${[say(`mark.said.${mark}`), ...reasons.map((each) => named("reason", each))].join(", ")})`).join(", ");
}
