/**
 * A PIN's check on this tablet, made after an online sign-in and good for 30 days: HMAC(non-extractable key,
 * PBKDF2(PIN)). It says who is meant; it is no barrier (a six-digit PIN never is, in a browser), so entries
 * proved by it say `offline`.
 */
import { meta, putMeta } from "../record/meta";
import { settings } from "../record/setting";
import { read, write } from "../record/store";
import type { Role } from "./rows";
import { NoPinCheck, PinStopped, WrongPin } from "./trouble";

export const GOOD_FOR_MS = 30 * 24 * 3_600_000;
/** OWASP Password Storage Cheat Sheet: at least 600,000 for PBKDF2-HMAC-SHA256 (from memory). */
const ITERATIONS = 600_000;
export const STOP_AT = 10;

interface Check {
  readonly salt: ArrayBuffer;
  readonly mac: ArrayBuffer;
  readonly iterations: number;
  readonly untilMs: number;
  readonly roles: readonly Role[];
  readonly wrong: number;
  readonly notBeforeMs: number;
}

const TABLE = "pin_checks";

async function hmacKey(): Promise<CryptoKey> {
  const kept = await meta("pin_key");
  if (kept !== undefined) return kept;
  const made = await crypto.subtle.generateKey({ name: "HMAC", hash: "SHA-256" }, false, ["sign", "verify"]);
  await putMeta("pin_key", made);
  return made;
}

async function stretched(pin: string, salt: BufferSource, iterations: number): Promise<ArrayBuffer> {
  const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(pin), "PBKDF2", false, ["deriveBits"]);
  return crypto.subtle.deriveBits({ name: "PBKDF2", hash: "SHA-256", salt, iterations }, key, 256);
}

function keep(person: string, check: Check): Promise<unknown> {
  return write(["cards"], (tx) => tx.objectStore("cards").put({ table: TABLE, id: person, words: [], row: check }));
}

async function checkOf(person: string): Promise<Check | undefined> {
  const row = await read(["cards"], (tx) => tx.objectStore("cards").get([TABLE, person]));
  return row?.row as Check | undefined;
}

/** After an online sign-in: this PIN can be checked here for 30 days. */
export async function keepCheck(person: string, pin: string, roles: readonly Role[], iterations = ITERATIONS): Promise<void> {
  const salt = crypto.getRandomValues(new Uint8Array(16)).buffer;
  const mac = await crypto.subtle.sign("HMAC", await hmacKey(), await stretched(pin, salt, iterations));
  await keep(person, { salt, mac, iterations, untilMs: settings().now().getTime() + GOOD_FOR_MS, roles, wrong: 0, notBeforeMs: 0 });
}

/** The server no longer takes this person's PIN: neither does this tablet. */
export async function forgetCheck(person: string): Promise<void> {
  await write(["cards"], (tx) => tx.objectStore("cards").delete([TABLE, person]));
}

/** Checks a PIN without the network; answers the person's roles as last known. Raises NoPinCheck, WrongPin, PinStopped. */
export async function checkOffline(person: string, pin: string): Promise<readonly Role[]> {
  const check = await checkOf(person);
  const now = settings().now().getTime();
  if (check === undefined || check.untilMs < now || check.untilMs > now + GOOD_FOR_MS) throw new NoPinCheck();
  if (check.wrong >= STOP_AT) throw new PinStopped();
  if (now < check.notBeforeMs) throw new WrongPin(Math.ceil((check.notBeforeMs - now) / 1000), "offline");
  const fits = await crypto.subtle.verify("HMAC", await hmacKey(), check.mac, await stretched(pin, check.salt, check.iterations));
  if (fits) {
    if (check.wrong > 0) await keep(person, { ...check, wrong: 0, notBeforeMs: 0 });
    return check.roles;
  }
  const wrong = check.wrong + 1;
  const waitS = Math.min(60, 2 ** (wrong - 1));
  await keep(person, { ...check, wrong, notBeforeMs: now + waitS * 1000 });
  if (wrong >= STOP_AT) throw new PinStopped();
  throw new WrongPin(waitS, "offline");
}
