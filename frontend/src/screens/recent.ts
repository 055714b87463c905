/** The persons of this station, the newest first: kept in the browser by id alone, so that one tap goes on as another. */
import { people } from "../cards";
import { others } from "../parts/others.svelte";

const KEPT = "loupebook.recent";
const MOST = 4;

function kept(): readonly string[] {
  try {
    const found: unknown = JSON.parse(localStorage.getItem(KEPT) ?? "[]");
    return Array.isArray(found) ? found.filter((each) => typeof each === "string") : [];
  } catch {
    return [];
  }
}

/** Somebody acts here now: they come first, and the others of the last days are offered beside them. */
export async function cameHere(person: string): Promise<void> {
  const ids = [person, ...kept().filter((each) => each !== person)].slice(0, MOST);
  localStorage.setItem(KEPT, JSON.stringify(ids));
  const known = await people();
  const found = ids.slice(1).flatMap((id) => known.filter((each) => each.person === id));
  others.now = found.map((each) => ({ id: each.person, initials: each.initials, name: each.name }));
}
