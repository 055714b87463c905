/** Who has a scope, as known here: what the cards carry and what this tablet wrote since. */
import { ownCustody, type OwnWord } from "../record/custody";
import { read } from "../record/store";
import { type Custody, type CustodyEvent, custodyOf, type CustodyWhat, type Holder, HOUSE } from "../rules/custody";
import type { CustodyCard } from "./rows";

export interface CustodyHere {
  readonly custody: Custody;
  /** This tablet wrote on what the server no longer takes for the newest: a lead will have to say who has it. */
  readonly overtaken: boolean;
}

export async function custodyHere(scope: string): Promise<CustodyHere> {
  const [card, own] = await Promise.all([carried(scope), ownCustody(scope)]);
  const counted = new Set(card?.counted);
  const mine = own.filter(({ hash }) => !counted.has(hash.slice(0, SHORT))).map(eventOf);
  const custody = custodyOf([...mine, ...(card?.events ?? [])]);
  const unknown = new Set(custody.waiting);
  return { custody, overtaken: mine.some(({ entry }) => unknown.has(entry)) };
}

/** How many characters of a hash a card says of each word that it took in. */
const SHORT = 16;

async function carried(scope: string): Promise<CustodyCard | undefined> {
  const row = await read(["cards"], (tx) => tx.objectStore("cards").get(["custody", scope]));
  return row?.row as CustodyCard | undefined;
}

function eventOf({ hash, kind, basis, person, ms, body }: OwnWord): CustodyEvent {
  const what = kind === "entry.withdrawn" ? "taken_back" : (kind.slice("custody.".length) as CustodyWhat);
  return { entry: hash, what, basis, person, at_ms: ms, holder: holderOf(what, person, body), over: [] };
}

function holderOf(what: CustodyWhat, person: string, body: OwnWord["body"]): Holder {
  if (what === "returned") return { kind: "person", name: person };
  const party = (what === "offered" ? body["to"] : body["holder"]) as Holder | undefined;
  return party === undefined ? HOUSE : { kind: party.kind, name: party.name };
}
