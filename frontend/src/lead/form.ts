/** Sending a file to the server and what it answers of it: each row's fate. */
import { say } from "../parts/words";
import type { Scope } from "./answers";
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

/** One row of a washer's log: its number in the file, when (ms UTC) and which scope, or why it cannot be placed. */
export interface LogRow {
  readonly row: number;
  readonly at_ms: number | null;
  readonly scope: string | null;
  readonly machine: string;
  readonly cycle: string;
  readonly result: string;
  readonly why: "time_missing" | "time_not_read" | "scope_missing" | "scope_unknown" | "scope_twice" | "scope_differs" | "code_not_read" | null;
  readonly found: string;
}

type Order = "day_first" | "month_first";

/** `POST /lead/shift/log`: what was understood of a washer's log. `log` names it for the closing; null: how are its dates written? */
export interface MachineLog {
  readonly log: string | null;
  readonly sha256: string;
  readonly columns: readonly { readonly name: string; readonly column: string | null }[];
  readonly rows: number;
  readonly in_hours: number;
  readonly outside: number;
  /** How many rows cannot be placed, in all. */
  readonly lost: number;
  readonly dates: { readonly orders: readonly Order[]; readonly read: Order | null; readonly in_hours: Readonly<Partial<Record<Order, number>>> };
  readonly lines: readonly LogRow[];
  readonly not_placed: readonly LogRow[];
  readonly scopes: Readonly<Record<string, Scope>>;
  /** The file's name; it stays in this browser. */
  readonly name?: string;
}

const PATIENCE_MS = 60_000;

/** Sends a file: to be looked at, or with the plan of a look, to be written. Raises Trouble. */
export function bring(what: What, file: File, kinds: Readonly<Record<string, string>>, plan?: string): Promise<Brought> {
  const form = new FormData();
  form.append("file", file);
  if (Object.keys(kinds).length > 0) form.append("kinds", JSON.stringify(kinds));
  if (plan !== undefined) form.append("plan", plan);
  return post<Brought>(`/lead/bring/${what}`, form, file);
}

/** Sends a washer's log to be looked at for a shift. Raises Trouble. */
export function readLog(shift: string, file: File, dates: "" | Order): Promise<MachineLog> {
  const form = new FormData();
  form.append("file", file);
  return post<MachineLog>(`/lead/shift/log?name=${encodeURIComponent(shift)}&dates=${dates}`, form, file);
}

async function post<T>(path: string, form: FormData, file: File): Promise<T> {
  try {
    const reply = await fetch(path, {
      method: "POST", headers: { "X-Loupebook": "1" }, body: form,
      cache: "no-store", credentials: "same-origin", redirect: "error", signal: AbortSignal.timeout(PATIENCE_MS),
    });
    return await readAnswer<T>(reply);
  } catch (cause) {
    if (cause instanceof Trouble) throw cause;
    // A file that was moved or changed since it was chosen cannot be read again by the browser.
    if (!(await readable(file))) throw new Trouble(0, "file_gone", say("bring.file_gone.so"), say("desk.no_answer.safe"), say("bring.file_gone.next"));
    throw noAnswer();
  }
}

const readable = (file: File): Promise<boolean> => file.slice(0, 1).arrayBuffer().then(() => true, () => false);
