/** Sending a file to the server and what it answers of it: each row's fate. */
import { say } from "../parts/words";
import { noAnswer, readAnswer, Trouble } from "./ask";

export type What = "scopes" | "people";
export const FATES = ["new", "known", "changes", "same", "duplicate", "refused"] as const;
export type FateName = (typeof FATES)[number];

/** A note or a reason, with what belongs to it. */
export interface Remark {
  readonly code: string;
  readonly column?: string;
  readonly found?: string;
  readonly expected?: string;
  readonly word?: string;
  readonly nearest?: string;
  readonly missing?: readonly string[];
  readonly readings?: readonly string[];
  readonly other?: string;
  readonly row?: number;
}

/** One channel as the server understood its cells: micrometres, millimetres; absent where the row does not say. */
export interface SizeRead {
  readonly channel: string;
  readonly inner_um?: number;
  readonly length_mm?: number;
  readonly reach?: "borescope" | "flow" | "none";
}

export interface Fate {
  readonly row: number;
  readonly name: string;
  readonly fate: FateName;
  readonly key?: string;
  readonly reason?: Remark;
  readonly notes?: readonly Remark[];
  readonly changes?: readonly { readonly field: string; readonly before: string; readonly after: string }[];
  readonly of?: number;
  readonly kind?: string;
  readonly serial?: string;
  readonly sizes?: readonly SizeRead[];
  readonly none_here?: readonly string[];
}

export interface Brought {
  readonly what: What;
  readonly file: { readonly form: "csv" | "xlsx"; readonly encoding?: string; readonly separator?: string; readonly sheet?: string; readonly others?: string };
  readonly columns: readonly { readonly name: string; readonly column: string | null }[];
  readonly plan: string | null;
  readonly counts: Readonly<Record<FateName, number>>;
  readonly rows: readonly Fate[];
  readonly written: { readonly entries: number; readonly people: readonly string[]; readonly before: boolean } | null;
}

const PATIENCE_MS = 60_000;

/** Sends a file: to be looked at, or with the plan of a look, to be written. Raises Trouble. */
export async function bring(what: What, file: File, kinds: Readonly<Record<string, string>>, plan?: string): Promise<Brought> {
  const form = new FormData();
  form.append("file", file);
  if (Object.keys(kinds).length > 0) form.append("kinds", JSON.stringify(kinds));
  if (plan !== undefined) form.append("plan", plan);
  try {
    const reply = await fetch(`/lead/bring/${what}`, {
      method: "POST", headers: { "X-Loupebook": "1" }, body: form,
      cache: "no-store", credentials: "same-origin", redirect: "error", signal: AbortSignal.timeout(PATIENCE_MS),
    });
    return await readAnswer<Brought>(reply);
  } catch (cause) {
    if (cause instanceof Trouble) throw cause;
    // A file that was moved or changed since it was chosen cannot be read again by the browser.
    if (!(await readable(file))) throw new Trouble(0, "file_gone", say("bring.file_gone.so"), say("desk.no_answer.safe"), say("bring.file_gone.next"));
    throw noAnswer();
  }
}

const readable = (file: File): Promise<boolean> => file.slice(0, 1).arrayBuffer().then(() => true, () => false);
