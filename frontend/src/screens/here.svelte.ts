/** What every screen shows of this tablet: who acts, what is kept where, the station, the hand. Read, never guessed. */
import {
  by, cardsAt, facilityNow, scopeByKey, session, stations, thisStation,
  type CardsAt, type ChannelCard, type FacilityCard, type ScopeCard, type Session, type StationCard,
} from "../cards";
import { onChange, status, type By, type InspectionState, type Status } from "../record";
import { until } from "../parts/settled";
import type { BarSub, Hand, PersonFacts, Role, SentFacts, Theme } from "../parts/types";
import { say, type Key } from "../parts/words";
import { showTimesIn } from "../parts/zone";
import type { Step } from "../rules/cycle";
import { clockTime, named, opening } from "../parts/naming";

/** How long a station may be silent before screens say that a hold may exist there. */
const NOT_HEARD_MS = 10 * 60_000;
const LONGEST_RULER_CM = 200;

/** Since when a scope hangs, and the processing that nothing known since has undone. Moments in ms UTC. */
export interface KnownStand {
  readonly stored_ms?: number | undefined;
  readonly disinfected?: { readonly at_ms: number; readonly machine?: string | null | undefined; readonly cycle?: string | null | undefined } | undefined;
}

/** Nobody is signed in: the lock screen stands before every act, so a screen never meets this. */
export class NobodyHere extends Error {
  override readonly name = "NobodyHere";
}

class Here {
  status = $state.raw<Status>();
  session = $state.raw<Session>();
  cards = $state.raw<CardsAt>();
  /** The scopes of the cards that were asked for, by key. */
  scopes = $state.raw<Readonly<Record<string, ScopeCard>>>({});
  /** Where the scopes in hand stand in their cycle, by key. */
  stands = $state.raw<Readonly<Record<string, KnownStand>>>({});
  stationCards = $state.raw<readonly StationCard[]>([]);
  station = $state<string>();
  facility = $state.raw<FacilityCard>();
  now = $state(Date.now());
  /** What the live region says; the same words twice are said twice. */
  said = $state.raw<{ readonly text: string; readonly n: number }>({ text: "", n: 0 });
  /** The inspection concluded last, for the home screen. */
  concluded = $state.raw<{ readonly begun: string; readonly scope: string; readonly says: string }>();
  /** The step of the cycle saved last, for the home screen. */
  stepped = $state.raw<{ readonly hash: string; readonly scope: string }>();
  /** What the next scan says on the home screen: a look, or a step that many scopes take one after the other. */
  nextScan = $state<"inspect" | "hand-over" | Step>("inspect");
  theme = $state<Theme>("bench");
  hand = $state<Hand>("right");

  readonly person = $derived(this.session?.who === undefined ? undefined : { ...this.session.who, id: this.session.who.person });
  readonly badge: PersonFacts | undefined = $derived.by(() => {
    const who = this.session?.who;
    if (who === undefined) return undefined;
    return { id: who.person, initials: who.initials, name: who.name, role: mainRole(who.roles), };
  });
  readonly sent: SentFacts = $derived(sentOf(this.status, this.now));
  /** A person who only moves scopes: a scan leads to who has it, never to a look. */
  readonly moves: boolean = $derived(this.session?.who !== undefined && !this.session.who.roles.some((role) => role === "technician" || role === "lead" || role === "deputy"));
  readonly me: StationCard | undefined = $derived(this.stationCards.find((each) => each.station === this.station));
  readonly cardsAt = $derived(this.cards?.at);
  readonly notHeard = $derived(
    this.stationCards
      .filter((each) => each.station !== this.station && each.seen_at != null && this.now - Date.parse(each.seen_at) > NOT_HEARD_MS)
      .map((each) => ({ name: each.name, since: clockTime(each.seen_at ?? this.now) })),
  );
  readonly otherStation = $derived(this.stationCards.find((each) => each.station !== this.station)?.name);

  /** Begins to listen; the answer ends it. */
  start(): () => void {
    const ends = [
      status.subscribe((value) => (this.status = value)),
      session.subscribe((value) => {
        this.session = value;
        const hand = localStorage.getItem(`loupebook.hand.${value.who?.person ?? ""}`);
        this.hand = hand === "left" ? "left" : "right";
      }),
      cardsAt.subscribe((value) => (this.cards = value)),
      onChange((thing) => {
        if (thing === "cards" || thing === "meta") void this.read();
      }),
    ];
    this.setTheme(localStorage.getItem("loupebook.theme") === "room" ? "room" : "bench");
    const clock = setInterval(() => (this.now = Date.now()), 15_000);
    void this.read();
    return () => {
      clearInterval(clock);
      for (const end of ends) end();
    };
  }

  async read(): Promise<void> {
    const [station, cards, facility] = await until(Promise.all([thisStation(), stations(), facilityNow()]));
    showTimesIn(facility?.zone);
    this.station = station?.station;
    this.facility = facility;
    this.stationCards = cards;
    await Promise.all(Object.keys(this.scopes).map((key) => this.know(key)));
  }

  /** Makes sure that a scope's name can be shown. */
  async know(key: string | undefined): Promise<ScopeCard | undefined> {
    if (key === undefined) return undefined;
    const scope = await until(scopeByKey(key));
    if (scope !== undefined) this.scopes = { ...this.scopes, [key]: scope };
    return scope;
  }

  setTheme(theme: Theme): void {
    this.theme = theme;
    localStorage.setItem("loupebook.theme", theme);
    document.documentElement.dataset["theme"] = theme;
  }

  setHand(hand: Hand): void {
    this.hand = hand;
    localStorage.setItem(`loupebook.hand.${this.person?.id ?? ""}`, hand);
  }

  by(): By {
    const now = by();
    if (now === undefined) throw new NobodyHere();
    return now;
  }

  tell(text: string): void {
    this.said = { text, n: this.said.n + 1 };
  }

  /** "Colonoscope C-14", or with its serial number where it has no tag. */
  scopeName(key: string | undefined): string {
    const card = key === undefined ? undefined : this.scopes[key];
    if (card === undefined) return serialOfKey(key) ?? "";
    return say("scope.named", { kind: named("kind", card.scope_kind), name: card.tag ?? card.serial });
  }

  scopeShort(key: string | undefined): string {
    const card = key === undefined ? undefined : this.scopes[key];
    return card?.tag ?? card?.serial ?? serialOfKey(key) ?? "";
  }

  serialOf(key: string): string | undefined {
    return this.scopes[key]?.serial ?? serialOfKey(key);
  }

  inspectionSub(state: InspectionState | undefined, text?: string): BarSub | undefined {
    if (state === undefined) return undefined;
    const card = this.scopes[state.scope];
    const model = [card?.maker, card?.model].filter((word) => word != null && word !== "").join(" ");
    return {
      lead: opening(say(`point.${state.point}` as Key)),
      text: text ?? (state.practice ? say("practice.is") : model === "" ? undefined : model),
      serial: text === undefined ? this.serialOf(state.scope) : undefined,
    };
  }

  /** Length of the insertion tube in cm, as the facility entered it. */
  tubeCm(key: string | undefined): number {
    const mm = key === undefined ? undefined : this.scopes[key]?.tube_mm;
    return mm == null ? LONGEST_RULER_CM : Math.round(mm / 10);
  }

  /** A channel as the scope's own instructions print it; what they do not give is undefined. */
  channel(key: string | undefined, channel: string): ChannelCard | undefined {
    return (key === undefined ? undefined : this.scopes[key])?.channels?.find((each) => each.channel === channel);
  }

  /** The channels that this scope's record gives sizes of. */
  channelsOf(key: string | undefined): readonly ChannelCard[] {
    return (key === undefined ? undefined : this.scopes[key]?.channels) ?? [];
  }

  /** Length of a channel's ruler in cm: its own length where it is on record, never the working length. */
  channelCm(key: string | undefined, channel: string): number {
    const mm = this.channel(key, channel)?.length_mm;
    return mm === undefined ? LONGEST_RULER_CM : Math.round(mm / 10);
  }

  /** Where a scope stands in its cycle, as known here. */
  standOf(key: string | undefined): KnownStand | undefined {
    return key === undefined ? undefined : this.stands[key];
  }

  /** Whether a disinfection is recorded that nothing known since has undone. */
  disinfected(key: string | undefined): boolean {
    return this.standOf(key)?.disinfected !== undefined;
  }

  /** How often this scope was sent back to cleaning in this cycle, as known here. */
  cleanings(key: string | undefined): number {
    return (key === undefined ? undefined : this.scopes[key]?.cleanings) ?? 0;
  }

  /** How often it was sent back to drying in this cycle, as known here. */
  dryings(key: string | undefined): number {
    return (key === undefined ? undefined : this.scopes[key]?.dryings) ?? 0;
  }
}

export const here = new Here();

function mainRole(roles: readonly string[]): Role | undefined {
  return (["lead", "deputy", "technician", "runner", "auditor"] as const).find((role) => roles.includes(role));
}

function sentOf(status: Status | undefined, now: number): SentFacts {
  const facts = keptOf(status, now);
  return status?.stopped === "withdrawn" ? { ...facts, words: say("sent.withdrawn") } : facts;
}

function keptOf(status: Status | undefined, now: number): SentFacts {
  const unsent = (status?.unsent ?? 0) + (status?.unsentPhotos ?? 0);
  if (status === undefined || unsent > 0) {
    const oldest = status?.oldestUnsentMs;
    return {
      state: "saved_here", count: status?.unsent ?? 0,
      unsentMinutes: oldest === undefined ? undefined : Math.max(0, Math.floor((now - oldest) / 60_000)),
    };
  }
  if ((status.head?.seq ?? 0) === 0) return { state: "saved_here", count: 0 };
  return { state: "on_server", count: status.head?.seq ?? 0, at: status.lastAnswerMs === undefined ? undefined : clockTime(status.lastAnswerMs) };
}

/** The serial number inside a key, for a scope that the cards do not have. */
function serialOfKey(key: string | undefined): string | undefined {
  if (key === undefined) return undefined;
  if (key.startsWith("udi:")) return key.slice(key.indexOf("/") + 1);
  const last = key.split("|").pop();
  return last === undefined ? undefined : last.replaceAll("%7C", "|").replaceAll("%25", "%");
}
