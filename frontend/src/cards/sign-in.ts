/** Signing in and out by PIN: with the server, or by this tablet's own check. Who is signed in stands in session.ts. */
import { meta } from "../record/meta";
import { settings } from "../record/setting";
import { ask, NoAnswer, ServerTrouble } from "../record/wire";
import { checkOffline, forgetCheck, keepCheck } from "./pin-check";
import type { Role, SignedIn } from "./rows";
import { goOnProved, lock, named } from "./session";
import { PinStopped, WrongPin } from "./trouble";

/** The check of the last online sign-in, while it is being made. */
let keeping: Promise<void> = Promise.resolve();

/**
 * Signs a person in by PIN: with the server, or without the network by this tablet's own check.
 * Raises WrongPin, PinStopped, NoPinCheck, ServerTrouble (a lead switched the name off, the station is not known).
 */
export async function signIn(person: string, pin: string): Promise<SignedIn> {
  const station = await meta("station");
  try {
    const body = JSON.stringify({ person, pin });
    const answer = await ask("/door/sign-in", { method: "POST", token: station?.token, body, cookie: true });
    return await keepOnlineSignIn(answer.json, pin);
  } catch (cause) {
    if (cause instanceof NoAnswer) return signInOffline(person, pin);
    throw await refusal(cause, person);
  }
}

/** Sets a person's own PIN by a code from a lead, or a lead's by their recovery code; signs them in. Raises NoAnswer, ServerTrouble. */
export async function setPinByCode(person: string, code: string, pin: string): Promise<SignedIn> {
  const station = await meta("station");
  const body = JSON.stringify({ person, code, pin });
  const answer = await ask("/door/by-code", { method: "POST", token: station?.token, body, cookie: true });
  return keepOnlineSignIn(answer.json, pin);
}

/** The server's refusal as this tablet's trouble. A name that was switched off is not let in offline either. */
async function refusal(cause: unknown, person: string): Promise<unknown> {
  if (!(cause instanceof ServerTrouble)) return cause;
  switch (cause.words.code) {
    case "wrong_pin":
    case "pin_waits":
      return new WrongPin(cause.waitS ?? 0, "online");
    case "pin_stopped":
    case "pin_stopped_everywhere":
      await forgetCheck(person);
      return new PinStopped();
    case "person_off":
      await forgetCheck(person);
      return cause;
    default:
      return cause;
  }
}

async function signInOffline(person: string, pin: string): Promise<SignedIn> {
  await keeping;
  const roles = await checkOffline(person, pin);
  const who = await named(person, roles, { how: "pin", where: "offline" });
  return goOnProved(who, Number.POSITIVE_INFINITY);
}

/** Keeps the answer of an online sign-in and the tablet's own check of this PIN. */
export async function keepOnlineSignIn(json: Readonly<Record<string, unknown>>, pin: string, name?: string): Promise<SignedIn> {
  const { person, roles, ticket, until } = json;
  if (typeof person !== "string" || typeof ticket !== "string" || !Array.isArray(roles)) throw new NoAnswer("not a sign-in");
  const who = await named(person, roles as Role[], { how: "pin", where: "online", ticket }, name);
  const untilMs = typeof until === "string" ? Date.parse(until) : Number.NaN;
  // No tap waits for it: it is needed at the next sign-in without a network, and that one waits.
  keeping = keepCheck(person, pin, who.roles).catch(() => undefined);
  return goOnProved(who, Number.isNaN(untilMs) ? settings().now().getTime() : untilMs);
}

/** Locks here, and ends the person's session on the server where it can be reached. Unsent work stays. */
export async function signOut(): Promise<void> {
  lock();
  await ask("/door/sign-out", { method: "POST", body: "{}", cookie: true }).catch(() => undefined);
}
