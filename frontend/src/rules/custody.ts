/**
 * Who has a scope, as all that is known of it says: one holder, an offer that waits, or a dispute. Pure.
 * The same as `backend/loupebook/rules/custody.py`; `shared/vectors/custody.json` holds the two together. It is doubled
 * because two people hand a scope over without a network, and the server must come to the same answer.
 *
 * Each event names the one it builds on (`basis` of its entry). Known events therefore form a tree, in which those that
 * build on the same and say the same are one: its tip says who has the scope. Several tips: disputed, whoever arrived
 * first, until a lead settles it by naming them. No clock decides anything, and the order of arrival changes nothing.
 */

/**
 * offered: the giver holds it out. accepted: the taker has it. declined: it stays with the giver.
 * returned: it came back from somebody outside the house. taken_back: the event it builds on is undone.
 * settled: a lead says who has it, over the tips that differed.
 */
export type CustodyWhat = "offered" | "accepted" | "declined" | "returned" | "taken_back" | "settled";

/**
 * two_on_one: two that exclude each other build on one. not_the_holder: somebody gave what another has.
 * nothing_offered: taken or declined, where no offer stood. same_person: one person gave and took.
 * not_outside: it is said to have come back, and somebody in the house has it.
 */
export type CustodyWhy = "two_on_one" | "not_the_holder" | "nothing_offered" | "same_person" | "not_outside";

/** Who has it: a person or a place of the house, or somebody outside. `house`: nothing was ever handed over. */
export interface Holder {
  readonly kind: "house" | "person" | "place" | "outside";
  readonly name: string;
}

/** One word about who has a scope. `person` wrote it; `basis` is what it builds on, "" where it knew of nothing. */
export interface CustodyEvent {
  readonly entry: string;
  readonly what: CustodyWhat;
  readonly basis: string;
  readonly person: string;
  readonly at_ms: number;
  /** offered: for whom (`house`: whoever takes it). accepted, returned, settled: who has it now. */
  readonly holder: Holder;
  /** settled: the tips it ends. */
  readonly over: readonly string[];
  /**
   * accepted, declined: the offer it builds on, as the giver's screen showed it. It stands in for the offer's own entry
   * until that is known, so that what was taken without a network is not lost with the giver's tablet.
   */
  readonly offer?: CustodyEvent | null;
}

/** What is so now. `tips` are the entries that say it; what comes next names the first of them as its basis. */
export interface Custody {
  readonly state: "held" | "offered" | "disputed";
  /** Nobody can be named while it is disputed. While it is offered, the giver. */
  readonly holder: Holder | null;
  readonly to: Holder | null;
  readonly since_ms: number;
  readonly tips: readonly string[];
  readonly why: CustodyWhy | null;
  /** Entries whose basis is not known here: they say nothing yet. */
  readonly waiting: readonly string[];
}

export const HOUSE: Holder = { kind: "house", name: "" };
const HOUSE_HAS_IT: Custody = { state: "held", holder: HOUSE, to: null, since_ms: 0, tips: [], why: null, waiting: [] };

/** Who has a scope after these events; each counted once, in whatever order they are given. */
export function custodyOf(events: readonly CustodyEvent[]): Custody {
  const given = new Map(events.map((event) => [event.entry, event]));
  const known = new Map([...shownIn(given), ...given]);
  let left = [...known.values()].toSorted((a, b) => (a.entry < b.entry ? -1 : 1));
  const tree = new Tree();
  while (left.length > 0) {
    const ready = left.filter((event) => tree.knows(parentsOf(event)));
    if (ready.length === 0) break;
    for (const event of ready) tree.add(event);
    left = left.filter((event) => !ready.includes(event));
  }
  return { ...tree.told(), waiting: left.map(({ entry }) => entry).filter((entry) => given.has(entry)) };
}

/** Offers as screens showed them. Where two say different things of one, that of the lowest entry. */
function shownIn(given: ReadonlyMap<string, CustodyEvent>): ReadonlyMap<string, CustodyEvent> {
  const shown = new Map<string, CustodyEvent>();
  for (const entry of [...given.keys()].toSorted()) {
    const offer = given.get(entry)?.offer;
    if (offer != null && !shown.has(offer.entry)) shown.set(offer.entry, offer);
  }
  return shown;
}

/** Whether this person may take or decline what is offered now: not the giver, and meant for them or for anybody. */
export function mayTake(custody: Custody, person: string): boolean {
  if (custody.state !== "offered" || custody.to === null || same(custody.holder, { kind: "person", name: person })) return false;
  return custody.to.kind !== "person" || custody.to.name === person;
}

function parentsOf(event: CustodyEvent): readonly string[] {
  if (event.what === "settled") return event.over;
  return event.basis === "" ? [] : [event.basis];
}

function same(one: Holder | null, other: Holder | null): boolean {
  return one?.kind === other?.kind && one?.name === other?.name;
}

/** One or more events that build on the same and say the same: scanned twice, or written by both who were there. */
interface Node {
  readonly id: number;
  readonly before: Custody;
  readonly entries: string[];
  custody: Custody;
  /** Something builds on it. */
  passed: boolean;
}

/** Nodes by what they build on and what they say; events come after those that they build on. */
class Tree {
  readonly #nodes = new Map<string, Node>();
  readonly #of = new Map<string, Node>();

  knows(entries: readonly string[]): boolean {
    return entries.every((entry) => this.#of.has(entry));
  }

  add(event: CustodyEvent): void {
    const parents = parentsOf(event).flatMap((entry) => this.#of.get(entry) ?? []);
    const before = parents[0]?.custody ?? HOUSE_HAS_IT;
    const after = event.what === "taken_back" ? (parents[0]?.before ?? HOUSE_HAS_IT) : afterOf(before, event);
    const on = [...new Set(parents.map(({ id }) => id))].toSorted((a, b) => a - b);
    const key = JSON.stringify([on, after.state, after.holder, after.to, after.why]);
    const node = this.#nodes.get(key) ?? { id: this.#nodes.size, before, entries: [], custody: after, passed: false };
    node.custody = { ...node.custody, since_ms: Math.min(node.custody.since_ms, after.since_ms) };
    node.entries.push(event.entry);
    this.#nodes.set(key, node);
    this.#of.set(event.entry, node);
    for (const parent of parents) parent.passed = true;
  }

  told(): Custody {
    const tips = [...this.#nodes.values()].filter(({ passed }) => !passed);
    const entries = tips.flatMap((node) => node.entries).toSorted();
    const [only] = tips;
    if (only === undefined) return HOUSE_HAS_IT;
    if (tips.length === 1) return { ...only.custody, tips: entries };
    const since_ms = Math.max(...tips.map(({ custody }) => custody.since_ms));
    return { state: "disputed", holder: null, to: null, since_ms, tips: entries, why: "two_on_one", waiting: [] };
  }
}

/** What is so after this event, if nothing but its own line is looked at. */
function afterOf(before: Custody, event: CustodyEvent): Custody {
  if (event.what === "settled") return held(event, event.holder);
  if (before.state === "disputed") return before;
  const giver: Holder = { kind: "person", name: event.person };
  const kind = before.holder?.kind;
  switch (event.what) {
    case "offered": {
      // What lies in the house anybody may give; what a person has, only they. A second offer stands for the first.
      if ((kind === "person" || kind === "outside") && !same(before.holder, giver)) return disputed(event, "not_the_holder");
      return { ...HOUSE_HAS_IT, state: "offered", holder: giver, to: event.holder, since_ms: event.at_ms };
    }
    case "accepted": {
      if (before.state !== "offered") return disputed(event, "nothing_offered");
      if (event.holder.kind !== "outside" && same(before.holder, giver)) return disputed(event, "same_person");
      return held(event, event.holder);
    }
    case "declined": {
      return before.state === "offered" ? held(event, before.holder) : disputed(event, "nothing_offered");
    }
    default: {
      if ((kind === "person" || kind === "place") && !same(before.holder, event.holder)) return disputed(event, "not_outside");
      return held(event, event.holder);
    }
  }
}

function held(event: CustodyEvent, holder: Holder | null): Custody {
  return { ...HOUSE_HAS_IT, holder, since_ms: event.at_ms };
}

function disputed(event: CustodyEvent, why: CustodyWhy): Custody {
  return { ...HOUSE_HAS_IT, state: "disputed", holder: null, since_ms: event.at_ms, why };
}
