/**
 * Sends what is not yet on the server: when to try, and how long to wait. One sender an origin, by a Web Lock
 * held for a round only, so that a sleeping window keeps nobody waiting. Nothing goes out in the background.
 */
import { onChange } from "./changed";
import { noteStore } from "./lost";
import { ChainRefused, isRefusal, sendRound, type RoundEnd } from "./send-round";
import { MOST_LINES } from "./outbox";
import { selfCheck } from "./self-check";
import { settings } from "./setting";
import { refreshStatus, tellStatus } from "./status";
import type { Answer, TroubleWords } from "./wire";

/** Every so often while the page is in view: the head is asked for, which also says whether we are online. */
export const LOOK_EVERY_MS = 30_000;
export const LONGEST_WAIT_MS = 60_000;

/** 1, 2, 4 ... 60 s, of which a random half is left out, so that 60 tablets do not come back as one. */
export function waitMs(failures: number, random: number = Math.random()): number {
  const whole = Math.min(LONGEST_WAIT_MS, 1000 * 2 ** Math.max(0, failures - 1));
  return Math.round(whole / 2 + (whole / 2) * random);
}

let failures = 0;
let timer: ReturnType<typeof setTimeout> | undefined;
let running: Promise<void> | undefined;
let wanted = false;
let started = 0;

function heard(_answer: Answer): void {
  tellStatus({ lastAnswerMs: settings().now().getTime() });
}

/** A window that sleeps in the middle of its round may hold the lock for long: then this one tries again later. */
const LOCK_PATIENCE_MS = 10_000;

/** Runs `act` when no other window of this origin is sending. */
async function alone(act: () => Promise<void>): Promise<void> {
  const locks = globalThis.navigator?.locks as LockManager | undefined;
  if (locks === undefined) return act();
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), LOCK_PATIENCE_MS);
  try {
    await locks.request(`${settings().store}-sender`, { signal: patience.signal }, async () => {
      clearTimeout(timer);
      await act();
    });
  } catch (cause) {
    if (!patience.signal.aborted) throw cause;
  } finally {
    clearTimeout(timer);
  }
}

async function round(): Promise<void> {
  tellStatus({ sending: true });
  let end: RoundEnd | undefined;
  let refusal: TroubleWords | undefined;
  let refusedChain = false;
  try {
    end = await sendRound(heard, Math.max(1, MOST_LINES >> failures));
    failures = end.stopped === undefined || end.stopped === "withdrawn" ? 0 : failures + 1;
  } catch (cause) {
    if (isRefusal(cause)) refusal = cause.words;
    refusedChain = cause instanceof ChainRefused;
    // No answer, or the server's refusal: everything still waits here, and the next round asks again.
    failures += 1;
  } finally {
    tellStatus({ sending: false, refusal, refusedChain, ...(end === undefined ? {} : { stopped: end.stopped }) });
    await refreshStatus();
  }
}

/** Rounds until nothing came meanwhile; then sets the timer that sends again. */
async function rounds(): Promise<void> {
  do {
    wanted = false;
    await alone(round);
  } while (wanted && failures === 0);
}

function run(): Promise<void> {
  wanted = true;
  if (running !== undefined) return running;
  clearTimeout(timer);
  running = rounds().finally(() => {
    running = undefined;
    schedule();
  });
  return running;
}

function schedule(): void {
  clearTimeout(timer);
  if (started === 0) return;
  const wait = failures > 0 ? waitMs(failures) : LOOK_EVERY_MS;
  timer = setTimeout(() => void (inView() ? run() : schedule()), wait);
}

function inView(): boolean {
  return typeof document === "undefined" || document.visibilityState === "visible";
}

/** Sends now: a tap, a new save, the page in view again. Answers after the round. */
export function sendNow(): Promise<void> {
  failures = 0;
  return run();
}

/** Starts sending in this page: now, at every save, on coming into view, on `online`, every 30 s. The answer ends it. */
export function startSender(): () => void {
  started += 1;
  const wake = (): void => {
    if (inView()) void sendNow();
  };
  const stopHearing = onChange((thing) => {
    if (thing === "entries" || thing === "meta") wake();
  });
  const targets: [EventTarget | undefined, string][] = [
    [globalThis.document as Document | undefined, "visibilitychange"],
    [globalThis.window as Window | undefined, "pageshow"],
    [globalThis.window as Window | undefined, "online"],
  ];
  for (const [target, name] of targets) target?.addEventListener(name, wake);
  void refreshStatus();
  void selfCheck().catch(() => undefined).then(noteStore).catch(() => undefined).then(wake);
  return () => {
    started -= 1;
    stopHearing();
    for (const [target, name] of targets) target?.removeEventListener(name, wake);
    if (started === 0) clearTimeout(timer);
  };
}
