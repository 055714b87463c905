/** How what is said of a hold, and what is asked of people, is worded. Pure: rows and names in, sentences out. */
import { named, partName } from "../parts/names";
import { opening } from "../parts/naming";
import { say } from "../parts/words";
import type { AskedRow, HoldWord, Person } from "./answers";
import { goesWords, nameOf, worded } from "./shown";

export const OFFICES = ["infection_prevention", "biomed", "risk"] as const;
export type Office = (typeof OFFICES)[number];

export const officeWords = (office: string): string => worded(`tell.${office}`, {}, office);
export const officesSaid = (offices: readonly string[]): string => opening(offices.map(officeWords).join(", "));

/** One word about a hold beside its decisions. */
export function wordSaid({ what, said, person }: Pick<HoldWord, "what" | "said" | "person">, people: readonly Person[]): string {
  const by = nameOf(people, person);
  const words = String(said.words ?? "");
  if (what === "phoned") return say("hold.said.phoned", { lead: nameOf(people, said.phone?.who ?? ""), person: by, goes: goesWords(said.goes ?? "hold", "").toLocaleLowerCase(), words });
  if (what === "escalated") return say("hold.said.escalated", { person: by, offices: officesSaid(said.to ?? []).toLocaleLowerCase(), words });
  return say("hold.said.advised", { by: said.by ?? "", person: by, words });
}

export const askedSaid = ({ what, to, reason, drawn }: Pick<AskedRow, "what" | "to" | "reason" | "drawn">, people: readonly Person[]): string =>
  say(drawn ? "asked.said.drawn" : `asked.said.${what}`, { to: to === null ? say("asked.anybody") : nameOf(people, to), reason });

/** What came of it: each answer in a sentence; of a second opinion both, and whether they agree. */
export function answersSaid(row: AskedRow, people: readonly Person[]): readonly string[] {
  const of = row.parts[0];
  const gradeOf = (grade: string | null): string => (grade === null ? "" : worded(`grade.${grade}`, {}, grade).toLocaleLowerCase());
  const seenOf = (finding: string | null): string => named("seen", finding ?? "").toLocaleLowerCase();
  const said = row.answers.flatMap((each): readonly string[] => {
    const person = nameOf(people, each.person);
    if (!each.counts) return [say("asked.other", { person })];
    if (each.did !== "seen" || row.first === null) return [say(`asked.did.${each.did}`, { person, words: each.words ?? "" }).trim()];
    const second = each.finding === null ? say("asked.second_nothing", { person }) : say("asked.second", { what: seenOf(each.finding), grade: gradeOf(each.grade), person });
    const agree = each.finding === row.first.finding && each.grade === row.first.grade;
    return [say("asked.first", { what: seenOf(row.first.finding), grade: gradeOf(row.first.grade), person: nameOf(people, row.first.person) }), second, say(agree ? "asked.agree" : "asked.differ")];
  });
  return [...(of === undefined ? [] : [opening(row.parts.map(partName).join(", "))]), ...(said.length === 0 && row.open ? [say("asked.open")] : said)];
}
