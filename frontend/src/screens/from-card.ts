/** Photos from the card of a borescope, several at once: their order is that of their names, as its maker counts them. */
import { fromFile, PhotoRefused, type PhotoWhy, type Shot } from "../capture/photo";

/** What became of one file: a photo, one that is kept here already, or why it is none. */
export interface FromCard {
  readonly name: string;
  /** When the file was written, by the borescope's own clock; ms since 1970. */
  readonly at: number;
  readonly shot?: Shot;
  readonly double?: boolean;
  readonly why?: PhotoWhy;
}

/** What stands of the pile in hand: whether all of it is done, how many are photos, how many files come next. */
export interface Pile {
  readonly all: boolean;
  readonly taken: number;
  readonly next: number;
}

/** Most files taken in at once: their names must fit into one entry. */
export const MOST_FILES = 100;

/** By name, numbers in it counted as numbers (IMG9 before IMG10); the same name by time. */
export function inOrder<F extends Pick<File, "name" | "lastModified">>(files: readonly F[]): F[] {
  const compare = new Intl.Collator("en", { numeric: true }).compare;
  return files.toSorted((a, b) => compare(a.name, b.name) || a.lastModified - b.lastModified);
}

/** All of them in order, as many at a time as one entry can name. */
export function pilesOf<F extends Pick<File, "name" | "lastModified">>(files: readonly F[]): readonly (readonly F[])[] {
  const all = inOrder(files);
  return Array.from({ length: Math.ceil(all.length / MOST_FILES) }, (_, n) => all.slice(n * MOST_FILES, (n + 1) * MOST_FILES));
}

/**
 * Takes the files of a pile in, one after another, and tells each as it is done. `known` are the photos kept already: one of
 * them, or the same file twice, is not taken in again.
 */
export async function takeIn(
  files: readonly File[],
  known: ReadonlySet<string>,
  told: (sofar: readonly FromCard[]) => void,
  take: (file: File) => Promise<Shot> = fromFile,
): Promise<readonly FromCard[]> {
  const here = new Set(known);
  const done: FromCard[] = [];
  for (const file of files) {
    const { name, lastModified: at } = file;
    try {
      const shot = await take(file);
      done.push(here.has(shot.sha256) ? { name, at, double: true } : { name, at, shot });
      here.add(shot.sha256);
    } catch (cause) {
      done.push({ name, at, why: cause instanceof PhotoRefused ? cause.why : "not_a_picture" });
    }
    told([...done]);
  }
  return done;
}
