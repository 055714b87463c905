/**
 * lead/ holds the lead's online screens: what the server tells, and commands. It keeps nothing.
 *
 * Asking the server. Only an answer of ours counts: our header, our type, JSON. A hotel's page with status 200,
 * a redirect, a proxy's page are all the same here: no answer came, and what was asked may have been done.
 */
import { say } from "../parts/words";

/** A refusal or silence, told in three parts. `code` is the server's own word, or `no_answer`. */
export class Trouble extends Error {
  override readonly name = "Trouble";
  constructor(
    readonly status: number, readonly code: string, readonly so: string, readonly safe: string, readonly next: string,
  ) {
    super(so);
  }
}

/** The one trouble that is not the server's. */
export function noAnswer(): Trouble {
  return new Trouble(0, "no_answer", say("desk.no_answer.so"), say("desk.no_answer.safe"), say("desk.no_answer.next"));
}

const PATIENCE_MS = 10_000;
type Fetch = (path: string, how: RequestInit) => Promise<Response>;

/** `T` is what the contract says of this route; our server's word is taken for its shape. Raises Trouble. */
export function ask<T>(path: string, body?: unknown, fetch: Fetch = globalThis.fetch): Promise<T> {
  return body === undefined
    ? asked(path, { method: "GET" }, PATIENCE_MS, fetch)
    : asked(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) }, PATIENCE_MS, fetch);
}

/** A file goes as it is, and takes as long as it takes. */
const FILE_PATIENCE_MS = 30 * 60_000;
export function askWithFile<T>(path: string, file: Blob, fetch: Fetch = globalThis.fetch): Promise<T> {
  return asked(path, { method: "POST", headers: { "Content-Type": "application/x-ndjson" }, body: file }, FILE_PATIENCE_MS, fetch);
}

async function asked<T>(path: string, how: RequestInit, patienceMs: number, fetch: Fetch): Promise<T> {
  try {
    const reply = await fetch(path, {
      ...how, headers: { ...how.headers, "X-Loupebook": "1" },
      cache: "no-store", credentials: "same-origin", redirect: "error", signal: AbortSignal.timeout(patienceMs),
    });
    return await readAnswer<T>(reply);
  } catch (cause) {
    throw cause instanceof Trouble ? cause : noAnswer();
  }
}

/** The JSON of an answer that is ours. Raises Trouble, and whatever reading a body that ends early raises. */
export async function readAnswer<T>(reply: Response): Promise<T> {
  const type = reply.headers.get("content-type")?.split(";")[0]?.trim();
  if (reply.headers.get("x-loupebook") !== "1" || type !== "application/json") throw noAnswer();
  const json: unknown = await reply.json();
  if (!reply.ok) throw refusalOf(reply.status, json);
  return json as T;
}

function refusalOf(status: number, json: unknown): Trouble {
  const words = typeof json === "object" && json !== null && "trouble" in json ? json.trouble : undefined;
  const { code, so, safe, next } = (words ?? {}) as Partial<Record<"code" | "so" | "safe" | "next", unknown>>;
  if (typeof code !== "string" || typeof so !== "string" || typeof safe !== "string" || typeof next !== "string") return noAnswer();
  return new Trouble(status, code, so, safe, next);
}
