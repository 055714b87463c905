/** Who has a scope, as known here: what the cards carry and what this tablet wrote since. */
import { ownCustody, type OwnWord } from "../record/custody";
import type { OfferShown } from "../record/kinds";
import { read as readStore } from "../record/store";
import type { ShownOffer } from "../rules/codes-own";
import { type Custody, type CustodyEvent, custodyOf, type CustodyWhat, type Holder, HOUSE } from "../rules/custody";
import type { CustodyCard } from "./rows";

export interface CustodyHere {
  readonly custody: Custody;
  /** This tablet wrote on what the server no longer takes for the newest: a lead will have to say who has it. */
  readonly overtaken: boolean;
  /** The newest word is this tablet's own: only there can it be taken back. */
  readonly own: boolean;
  /** What is offered now, where this tablet wrote the offer: its screen can show it to a tablet that has no network. */
  readonly shows?: ShownOffer;
}

/** `read`: an offer that was read off its giver's screen; it stands while nothing newer of it is known here. */
export async function custodyHere(scope: string, read?: ShownOffer): Promise<CustodyHere> {
  const [card, own] = await Promise.all([carried(scope), ownCustody(scope)]);
  const counted = new Set(card?.counted);
  const isCounted = (entry: string): boolean => counted.has(entry.slice(0, SHORT));
  const mine = own.filter(({ hash }) => !isCounted(hash)).map(eventOf);
  const known = [...mine, ...(card?.events ?? [])];
  const offers = [...mine.flatMap(({ offer }) => offer ?? []), ...(read === undefined || isCounted(read.offer) ? [] : [offeredIn(read)])];
  const events = [...known, ...offers.filter(({ entry }) => known.every((event) => event.entry !== entry)), ...bridges(offers, known, isCounted, card?.events ?? [])];
  const custody = custodyOf(events);
  const unknown = new Set(custody.waiting);
  const shown = custody.state === "offered" ? own.find(({ hash, kind }) => kind === "custody.offered" && custody.tips.includes(hash)) : undefined;
  return {
    custody, overtaken: mine.some(({ entry }) => unknown.has(entry)), own: own.some(({ hash }) => custody.tips[0] === hash),
    ...(shown === undefined ? {} : { shows: shownOf(scope, shown) }),
  };
}

/**
 * An offer may build on words that only its giver's tablet has. Then that the giver had it stands for them, over what
 * the server said last; the words themselves come when that tablet sends, and both are held together there.
 */
function bridges(offers: readonly CustodyEvent[], known: readonly CustodyEvent[], isCounted: (entry: string) => boolean, said: readonly CustodyEvent[]): readonly CustodyEvent[] {
  const { tips } = custodyOf(said);
  const missing = offers.filter(({ basis }) => basis !== "" && !isCounted(basis) && known.every(({ entry }) => entry !== basis));
  return missing.map(({ basis, person, at_ms }) => ({ entry: basis, what: "settled", basis: "", person, at_ms, holder: { kind: "person", name: person }, over: tips }));
}

function offeredIn({ offer, basis, giver, at_ms, to }: ShownOffer): CustodyEvent {
  return { entry: offer, what: "offered", basis, person: giver, at_ms, holder: to === "" ? HOUSE : { kind: "person", name: to }, over: [] };
}

/** An offer of this tablet's own, as its screen shows it; nothing where it is meant for somebody outside. */
function shownOf(scope: string, { hash, chain, seq, ms, person, basis, body }: OwnWord): ShownOffer {
  const to = body["to"] as Holder | undefined;
  return { offer: hash, chain, seq, at_ms: ms, giver: person, to: to?.kind === "person" ? to.name : "", basis, scope };
}

/** How many characters of a hash a card says of each word that it took in. */
const SHORT = 16;

async function carried(scope: string): Promise<CustodyCard | undefined> {
  const row = await readStore(["cards"], (tx) => tx.objectStore("cards").get(["custody", scope]));
  return row?.row as CustodyCard | undefined;
}

function eventOf({ hash, kind, basis, person, ms, body }: OwnWord): CustodyEvent {
  const what = kind === "entry.withdrawn" ? "taken_back" : (kind.slice("custody.".length) as CustodyWhat);
  const seen = body["offer"] as OfferShown | undefined;
  const offer = seen === undefined ? {} : { offer: offeredIn({ offer: basis, chain: seen.chain, seq: seen.seq, at_ms: seen.at_ms, giver: seen.giver, to: seen.to ?? "", basis: seen.on ?? "", scope: "" }) };
  return { entry: hash, what, basis, person, at_ms: ms, holder: holderOf(what, person, body), over: [], ...offer };
}

function holderOf(what: CustodyWhat, person: string, body: OwnWord["body"]): Holder {
  if (what === "returned") return { kind: "person", name: person };
  const party = (what === "offered" ? body["to"] : body["holder"]) as Holder | undefined;
  return party === undefined ? HOUSE : { kind: party.kind, name: party.name };
}
