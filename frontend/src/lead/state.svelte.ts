/** The desk: who is at it, whether the server is heard, and the one way to ask it. */
import { session, thisStation, type Session } from "../cards";
import { until } from "../parts/settled";
import { screenChanged } from "../parts/press";
import type { Hand, PersonFacts, SentFacts } from "../parts/types";
import { say } from "../parts/words";
import { showTimesIn } from "../parts/zone";
import { ask, noAnswer, Trouble } from "./ask";
import type { Me } from "./answers";
import { follow } from "./follow";
import { timeOf } from "./times";
import { hashOf, type Where, whereOf } from "./where";

/** The person went back instead of giving the PIN: the act was not done. */
export class WentBack extends Error {
  override readonly name = "WentBack";
}

/** Why the PIN is asked for, in the server's words or ours; `back` where the desk can be seen without it. */
export interface Gate {
  readonly trouble: Trouble | undefined;
  readonly back: boolean;
}

class Desk {
  where = $state.raw<Where>(whereOf(location.hash));
  me = $state.raw<Me>();
  gate = $state.raw<Gate>();
  session = $state.raw<Session>();
  /** False from the moment an answer or the stream fails until the next one comes. */
  online = $state(true);
  heardAt = $state(0);
  position = $state(0);
  zone = $state<string>();
  facility = $state("");
  enrolled = $state(true);
  now = $state(Date.now());
  said = $state.raw<{ readonly text: string; readonly n: number }>({ text: "", n: 0 });

  readonly leads = $derived(this.me?.roles.includes("lead") === true);
  /** Decides what a shift needs decided: a lead, or their deputy. */
  readonly decides = $derived(this.leads || this.me?.roles.includes("deputy") === true);
  readonly hand: Hand = $derived(localStorage.getItem(`loupebook.hand.${this.me?.person ?? ""}`) === "left" ? "left" : "right");
  readonly badge: PersonFacts | undefined = $derived(
    this.me === undefined ? undefined : { id: this.me.person, initials: this.me.initials, name: this.me.name, role: this.leads ? "lead" : this.decides ? "deputy" : "auditor" },
  );
  readonly sent: SentFacts = $derived({
    state: this.online ? "on_server" : "draft", count: 0,
    words: say(this.online ? "desk.online" : "desk.cut"),
    at: this.heardAt === 0 ? undefined : say("desk.known_at", { time: timeOf(this.heardAt, this.zone) }),
  });

  #waiting: { readonly proved: Promise<void>; readonly ok: () => void; readonly back: (cause: unknown) => void } | undefined;
  #stream: ReturnType<typeof follow> | undefined;

  /** Begins; the answer ends it. */
  start(): () => void {
    document.documentElement.dataset["theme"] = localStorage.getItem("loupebook.theme") === "room" ? "room" : "bench";
    const ends = [session.subscribe((value) => this.#changed(value))];
    const turned = (): void => {
      this.where = whereOf(location.hash);
      screenChanged();
    };
    const wake = (): void => this.#stream?.now();
    const lost = (): void => this.#stream?.lost();
    addEventListener("hashchange", turned);
    addEventListener("online", wake);
    addEventListener("offline", lost);
    const clock = setInterval(() => (this.now = Date.now()), 15_000);
    void this.#begin();
    return () => {
      for (const end of ends) end();
      removeEventListener("hashchange", turned);
      removeEventListener("online", wake);
      removeEventListener("offline", lost);
      clearInterval(clock);
      this.#leave();
    };
  }

  async #begin(): Promise<void> {
    const station = await until(thisStation());
    this.enrolled = station !== undefined;
    const facility = station?.facility as { readonly name?: unknown; readonly zone?: unknown } | undefined;
    if (typeof facility?.name === "string") this.facility = facility.name;
    if (typeof facility?.zone === "string") this.zone = facility.zone;
    showTimesIn(this.zone);
  }

  /** Somebody signed in, went, or the tablet locked itself. */
  #changed(value: Session): void {
    this.session = value;
    if (value.who === undefined) {
      this.#leave();
      this.gate = { trouble: undefined, back: false };
    } else if (this.me?.person !== value.who.person) {
      void this.enter();
    }
  }

  #leave(): void {
    this.#stream?.stop();
    this.#stream = undefined;
    this.me = undefined;
  }

  /**
   * Lets in who is signed in on this tablet, where the server says the same. The cookie alone is not enough:
   * it may still be that of the person before.
   */
  async enter(): Promise<void> {
    const who = this.session?.who;
    if (who === undefined) return;
    try {
      const me = await until(ask<Me>("/door/me"));
      this.heard();
      if (me.person !== who.person) throw new Trouble(401, "other_person", say("desk.other_person.so"), say("desk.no_answer.safe"), say("desk.other_person.next"));
      if (!me.roles.some((role) => role === "lead" || role === "deputy" || role === "auditor")) throw new Trouble(403, "not_a_lead", say("desk.not_a_lead.so"), say("desk.no_answer.safe"), say("desk.not_a_lead.next"));
      this.me = me;
      this.gate = undefined;
      this.#stream ??= follow({ position: (position) => this.#told(position), still: () => this.heard(), cut: () => void this.#cut() });
      this.#waiting?.ok();
      this.#waiting = undefined;
    } catch (cause) {
      this.gate = { trouble: cause instanceof Trouble ? cause : noAnswer(), back: false };
    }
  }

  /** Asks, and where the PIN is wanted first, waits for it and asks once more. Raises Trouble, WentBack. */
  async run<T>(act: () => Promise<T>): Promise<T> {
    for (;;) {
      try {
        const got = await until(act());
        this.heard();
        return got;
      } catch (cause) {
        if (!(cause instanceof Trouble)) throw cause;
        if (cause.code === "no_answer") this.online = false;
        else this.heard();
        if (cause.status !== 401) throw cause;
        await this.#prove(cause);
      }
    }
  }

  #prove(cause: Trouble): Promise<void> {
    this.gate ??= { trouble: cause, back: cause.code === "prove_again" };
    if (this.#waiting === undefined) {
      const { promise, resolve, reject } = withResolvers();
      this.#waiting = { proved: promise, ok: resolve, back: reject };
    }
    return this.#waiting.proved;
  }

  /** Back to what was shown; what asked for the PIN is not done. */
  goBack(): void {
    this.gate = undefined;
    this.#waiting?.back(new WentBack("no PIN was given"));
    this.#waiting = undefined;
  }

  /** Lets another person sign in, or the same one sign out. */
  change(): void {
    this.gate = { trouble: undefined, back: true };
  }

  /** This lead has seen that a recovery code opened somebody's sign-in. */
  async seen(entry: string): Promise<void> {
    await this.run(() => ask("/door/seen", { entry })).catch(() => undefined);
    if (this.me !== undefined) this.me = await this.run(() => ask<Me>("/door/me")).catch(() => this.me);
  }

  heard(): void {
    this.online = true;
    this.heardAt = Date.now();
  }

  tell(text: string): void {
    this.said = { text, n: this.said.n + 1 };
  }

  /** The address of this screen says what is asked for on it; nothing is drawn anew. */
  keep(where: Where): void {
    history.replaceState(history.state, "", hashOf(where));
  }

  go(where: Where): void {
    location.hash = hashOf(where);
  }

  #told(position: number): void {
    this.heard();
    this.position = position;
  }

  /** The stream says nothing of why: asking once tells whether it is the session or the network. */
  async #cut(): Promise<void> {
    this.online = false;
    await this.run(() => ask<Me>("/door/me")).catch(() => undefined);
  }
}

/** Promise.withResolvers, for browsers from before it. */
function withResolvers(): { promise: Promise<void>; resolve: () => void; reject: (cause: unknown) => void } {
  let resolve!: () => void;
  let reject!: (cause: unknown) => void;
  const promise = new Promise<void>((ok, no) => {
    resolve = ok;
    reject = no;
  });
  return { promise, resolve, reject };
}

export const desk = new Desk();

/** One act at a time on a page: whether one is under way, and why the last one was refused. */
export class Doing {
  busy = $state(false);
  trouble = $state.raw<Trouble>();

  /** What the act answers; nothing where another is under way, where it was refused, or where the person went back. */
  async run<T>(act: () => Promise<T>): Promise<T | undefined> {
    if (this.busy) return undefined;
    this.busy = true;
    this.trouble = undefined;
    try {
      return await act();
    } catch (cause) {
      if (cause instanceof Trouble) this.trouble = cause;
      else if (!(cause instanceof WentBack)) throw cause;
      return undefined;
    } finally {
      this.busy = false;
    }
  }
}

/** One page's answer: asked again when told, never twice at once, kept on screen while the next one comes. */
export class Answered<T> {
  value = $state.raw<T>();
  trouble = $state.raw<Trouble>();
  #busy = false;
  #again = false;

  constructor(private readonly path: () => string) {}

  async read(): Promise<void> {
    if (this.#busy) {
      this.#again = true;
      return;
    }
    this.#busy = true;
    try {
      do {
        this.#again = false;
        this.value = await desk.run(() => ask<T>(this.path()));
        this.trouble = undefined;
      } while (this.#again);
    } catch (cause) {
      if (cause instanceof Trouble) this.trouble = cause;
    } finally {
      this.#busy = false;
    }
  }
}
