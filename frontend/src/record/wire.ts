/**
 * Asking the server. Only an answer of ours counts: our header, our content type, JSON. A page of the hotel's
 * network with status 200, a redirect, a proxy's trouble are all the same here: no answer came.
 */
import { settings } from "./setting";

export interface TroubleWords {
  readonly code: string;
  readonly so: string;
  readonly safe: string;
  readonly next: string;
}

export interface Answer {
  readonly status: number;
  readonly json: Readonly<Record<string, unknown>>;
  /** How far this clock is ahead of the server's, in ms, as far as one answer tells (its Date has whole seconds). */
  readonly aheadMs: number | undefined;
}

/** No answer of ours came: no network, too slow, or somebody else answered. What was asked may have been done. */
export class NoAnswer extends Error {
  override readonly name = "NoAnswer";
}

/** The server refused, in its own words. */
export class ServerTrouble extends Error {
  override readonly name = "ServerTrouble";
  constructor(readonly status: number, readonly words: TroubleWords, readonly json: Answer["json"], readonly waitS?: number) {
    super(words.so);
  }
}

export interface Ask {
  readonly method?: "GET" | "POST";
  readonly token?: string | undefined;
  readonly body?: string | Uint8Array<ArrayBuffer>;
  readonly type?: string;
  readonly timeoutMs?: number;
  /** True where a person's cookie is set or read. */
  readonly cookie?: boolean;
}

export const ENTRIES_TIMEOUT_MS = 10_000;

/** One question. Raises NoAnswer, or ServerTrouble where our server refused. */
export async function ask(path: string, how: Ask = {}): Promise<Answer> {
  const { base, fetch, now } = settings();
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), how.timeoutMs ?? ENTRIES_TIMEOUT_MS);
  const asked = now().getTime();
  try {
    const response = await fetch(base + path, {
      method: how.method ?? "GET",
      headers: headersOf(how),
      ...(how.body === undefined ? {} : { body: how.body }),
      cache: "no-store",
      credentials: how.cookie === true ? "same-origin" : "omit",
      redirect: "error",
      signal: stop.signal,
    });
    const text = await response.text();
    const json = ours(response.headers.get("x-loupebook"), response.headers.get("content-type"), text);
    const answer = { status: response.status, json, aheadMs: aheadOf(response.headers.get("date"), asked, now().getTime()) };
    return isReceipt(response.status) ? answer : refused(answer, response.headers.get("retry-after"));
  } catch (cause) {
    if (cause instanceof NoAnswer || cause instanceof ServerTrouble) throw cause;
    throw new NoAnswer("no answer came", { cause });
  } finally {
    clearTimeout(timer);
  }
}

/** Only these two say that something was taken. */
function isReceipt(status: number): boolean {
  return status === 200 || status === 201;
}

function headersOf(how: Ask): Record<string, string> {
  return {
    "X-Loupebook": "1",
    ...(how.token === undefined ? {} : { Authorization: `Station ${how.token}` }),
    ...(how.body === undefined ? {} : { "Content-Type": how.type ?? "application/json" }),
  };
}

/** The JSON of an answer that carries our header and type. Raises NoAnswer for anybody else's. */
export function ours(header: string | null, type: string | null, text: string): Answer["json"] {
  if (header !== "1" || type?.split(";")[0]?.trim() !== "application/json") throw new NoAnswer("somebody else answered");
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch (cause) {
    throw new NoAnswer("the answer was cut", { cause });
  }
  if (typeof json !== "object" || json === null || Array.isArray(json)) throw new NoAnswer("not an answer of ours");
  return json as Answer["json"];
}

function refused(answer: Answer, retryAfter: string | null): never {
  const words = answer.json["trouble"] as Partial<TroubleWords> | undefined;
  const { code = `status_${answer.status}`, so = "", safe = "", next = "" } = words ?? {};
  const wait = retryAfter === null ? undefined : Number(retryAfter);
  throw new ServerTrouble(answer.status, { code, so, safe, next }, answer.json, Number.isSafeInteger(wait) ? wait : undefined);
}

function aheadOf(date: string | null, asked: number, answered: number): number | undefined {
  const server = date === null ? Number.NaN : Date.parse(date);
  return Number.isNaN(server) ? undefined : Math.round((asked + answered) / 2 - server - 500);
}

/** Without a byte of progress for so long, a photo is given up and begun again. */
export const PHOTO_IDLE_MS = 60_000;

/**
 * Puts one photo, telling progress to its own time-out: `fetch` does not tell how far a body has gone.
 * `bytes` is a fresh array: a Blob read back from the store went out empty on a Safari (no trouble told).
 */
export function putPhoto(sha256: string, bytes: Uint8Array<ArrayBuffer>, token: string, idleMs = PHOTO_IDLE_MS): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    let timer = setTimeout(() => request.abort(), idleMs);
    const moved = (): void => {
      clearTimeout(timer);
      timer = setTimeout(() => request.abort(), idleMs);
    };
    const settle = (act: () => Answer): void => {
      clearTimeout(timer);
      try {
        resolve(act());
      } catch (cause) {
        reject(cause as Error);
      }
    };
    request.open("PUT", `${settings().base}/photos/${sha256}`);
    request.setRequestHeader("X-Loupebook", "1");
    request.setRequestHeader("Authorization", `Station ${token}`);
    request.setRequestHeader("Content-Type", "application/octet-stream");
    request.upload.onprogress = moved;
    request.onprogress = moved;
    request.onload = () =>
      settle(() => {
        const json = ours(request.getResponseHeader("x-loupebook"), request.getResponseHeader("content-type"), request.responseText);
        const answer = { status: request.status, json, aheadMs: undefined };
        return isReceipt(request.status) ? answer : refused(answer, request.getResponseHeader("retry-after"));
      });
    const lost = (): void => settle(() => { throw new NoAnswer("no answer came"); });
    request.onerror = lost;
    request.onabort = lost;
    request.send(bytes);
  });
}
