/** What leads ask people to do themself, as known here: what the cards carry, less what this tablet answered since. */
import { ownOf } from "../record/own";
import { read } from "../record/store";
import type { AskedCard, HoldCard } from "./rows";

/** What this person may answer, the longest first: asked of them, or of whoever comes to it and not barred from it. */
export async function askedHere(person: string | undefined): Promise<readonly AskedCard[]> {
  const [rows, own] = await Promise.all([
    read(["cards"], (tx) => tx.objectStore("cards").getAll(IDBKeyRange.bound(["asked"], ["asked", []]))),
    ownOf("work.answered"),
  ]);
  const answered = new Set(own.map(({ body }) => String(body["asked"])));
  const cards = rows.map((row) => row.row as unknown as AskedCard).filter(({ asked }) => !answered.has(asked));
  return cards.filter(({ to, not_by: barred }) => (to === null || to === person) && person !== undefined && !barred.includes(person)).sort((a, b) => a.at.localeCompare(b.at));
}

/** A lead's words by phone on a hold that nobody confirmed yet: those the cards carry, and this tablet's own. */
export async function phonedHere(hold: HoldCard): Promise<readonly PhonedSaid[]> {
  const own = (await ownOf("hold.phoned")).filter(({ body }) => body["hold"] === hold.hold).map(({ person, body }): PhonedSaid => {
    const phone = body["phone"] as unknown as { readonly who: string; readonly at: string };
    return { who: phone.who, at: phone.at, goes: String(body["goes"]), words: String(body["words"]), person };
  });
  const known = hold.phoned ?? [];
  return [...known, ...own.filter((word) => !hold.decided && !known.some((each) => each.who === word.who && each.at === word.at))];
}

export interface PhonedSaid {
  readonly who: string;
  readonly at: string;
  readonly goes: string;
  readonly words: string;
  readonly person: string;
}
