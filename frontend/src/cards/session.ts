/**
 * Who is signed in on this tablet. Two minutes without a touch lock it: what is shown is hidden, drafts and
 * unsent work stay. One tap goes on as another person: proved, where that person gave their PIN since the
 * last lock, else by name.
 */
import type { By, Proof } from "../record/entry";
import { meta, putMeta } from "../record/meta";
import { type Readable, Told } from "../record/readable";
import { settings } from "../record/setting";
import { read } from "../record/store";
import type { PersonCard, Role, SignedIn } from "./rows";

export interface Session {
  /** Who acts now; undefined = nobody chose a name yet, or the tablet is locked. */
  readonly who: SignedIn | undefined;
  readonly locked: boolean;
  /** Who acted last: offered first on the lock screen. */
  readonly last: string | undefined;
}

export const IDLE_MS = 120_000;

const told = new Told<Session>({ who: undefined, locked: true, last: undefined });
/** The tablet's session. */
export const session: Readable<Session> = told;

interface Proved {
  readonly who: SignedIn;
  /** When an online ticket ends, ms since 1970; an offline proof holds until the lock. */
  readonly untilMs: number;
}

const proved = new Map<string, Proved>();
let touchedMs = 0;
let timer: ReturnType<typeof setTimeout> | undefined;
let idleMs = IDLE_MS;

/** For `append`: the person and proof of now, or undefined when nobody is signed in. */
export function by(): By | undefined {
  const { who } = told.value;
  return who === undefined ? undefined : { person: who.person, proof: current(who) };
}

/** An online proof whose ticket ended is still a PIN given here. */
function current(who: SignedIn): Proof {
  const kept = proved.get(who.person);
  if (who.proof.where === "online" && (kept === undefined || kept.untilMs < settings().now().getTime())) {
    return { how: who.proof.how, where: "offline" };
  }
  return who.proof;
}

/** Goes on as this person. */
function goOn(who: SignedIn): SignedIn {
  told.set({ who, locked: false, last: who.person });
  putMeta("last_person", who.person).catch(() => undefined);
  touch();
  return who;
}

/** Goes on as a person who gave their PIN; the proof holds until `untilMs` or the lock. For sign-in.ts alone. */
export function goOnProved(who: SignedIn, untilMs: number): SignedIn {
  proved.set(who.person, { who, untilMs });
  return goOn(who);
}

async function cardOf(person: string): Promise<PersonCard | undefined> {
  const row = await read(["cards"], (tx) => tx.objectStore("cards").get(["people", person]));
  return row?.row as PersonCard | undefined;
}

/** A person with this proof, in the words of their card. */
export async function named(person: string, roles: readonly Role[] | undefined, proof: Proof, name?: string): Promise<SignedIn> {
  const card = await cardOf(person);
  const shown = card?.name ?? name ?? person;
  return { person, name: shown, initials: card?.initials ?? initialsOf(shown), roles: roles ?? card?.roles ?? [], proof };
}

function initialsOf(name: string): string {
  const words = name.split(/\s+/).filter((word) => word !== "");
  return [words[0], words.length > 1 ? words.at(-1) : undefined].map((word) => [...(word ?? "")][0] ?? "").join("").toUpperCase();
}

/** Goes on by name alone: shown as not proved, and so it stands in every entry. */
export async function goOnByName(person: string): Promise<SignedIn> {
  return goOn(await named(person, undefined, { how: "named", where: "offline" }));
}

/** One tap: goes on as this person, with the proof they gave since the last lock, else by name. Drafts stay. */
export async function switchTo(person: string): Promise<SignedIn> {
  const kept = proved.get(person);
  return kept === undefined ? goOnByName(person) : goOn({ ...kept.who, proof: current(kept.who) });
}

/** Whether this person gave their PIN here since the last lock: then a badge, or a tap on the name, is enough. */
export function isProved(person: string): boolean {
  return proved.has(person) && !told.value.locked;
}

/** Somebody touched the tablet. */
export function touch(): void {
  touchedMs = settings().now().getTime();
  if (timer === undefined && idleMs > 0 && !told.value.locked) timer = setTimeout(lookIdle, idleMs);
}

/** A sleeping tablet's timers stand still: the clock decides, not the timer. */
function lookIdle(): void {
  clearTimeout(timer);
  timer = undefined;
  if (told.value.locked) return;
  const left = touchedMs + idleMs - settings().now().getTime();
  if (left <= 0) lock();
  else timer = setTimeout(lookIdle, left);
}

/** Hides what is shown and forgets the proofs. Removes nothing. */
export function lock(): void {
  proved.clear();
  clearTimeout(timer);
  timer = undefined;
  told.set({ who: undefined, locked: true, last: told.value.last });
}

/** Begins to watch for idleness and knows who was here last. `idle` in ms. The answer ends it. */
export function startSession(idle = IDLE_MS): () => void {
  idleMs = idle;
  void meta("last_person").then((last) => {
    if (last !== undefined && told.value.last === undefined) told.set({ ...told.value, last });
  });
  const look = (): void => lookIdle();
  const events = ["pointerdown", "keydown"] as const;
  for (const name of events) document.addEventListener(name, touch, { passive: true, capture: true });
  document.addEventListener("visibilitychange", look);
  // Somebody may be signed in already, who came from the desk and touches nothing any more.
  if (!told.value.locked) touch();
  return () => {
    for (const name of events) document.removeEventListener(name, touch, { capture: true });
    document.removeEventListener("visibilitychange", look);
    clearTimeout(timer);
    timer = undefined;
  };
}
