/** Fetches what changed since a log position and keeps it with that position in one transaction. */
import { onChange, tell } from "../record/changed";
import { sha256Text } from "../record/hash";
import { type HiddenCard, keepHiddenIn } from "../record/hidden";
import { meta, putMetaIn } from "../record/meta";
import { moment } from "../record/moment";
import { epochOf } from "../record/receipt";
import type { CardRow, Meta, OpenRow } from "../record/schema";
import { settings } from "../record/setting";
import { write } from "../record/store";
import { ask, NoAnswer, ServerTrouble } from "../record/wire";
import { lastCardsAt, tellCardsAt } from "./at";
import { type CardsAt, idOf, type Row, type ScopeCard, shaped, type Table, TABLES, WHOLE, wordsOf } from "./rows";

const EVERY_MS = 60_000;
const PINS = ["policy", "catalogue", "frequency"] as const;

/** Fetches once. Raises nothing: why nothing came stands in `cardsAt`. Answers whether something was kept. */
export async function fetchCards(): Promise<boolean> {
  const [station, before] = await Promise.all([meta("station"), meta("cards")]);
  if (station === undefined) return false;
  try {
    const since = before === undefined ? "since=0" : `since=${before.position}&epoch=${encodeURIComponent(before.epoch)}`;
    const { json } = await ask(`/cards?${since}`, { token: station.token, timeoutMs: 30_000 });
    const kept = await keep(json);
    tellCardsAt({ position: kept.position, at: kept.at, stopped: undefined });
    return true;
  } catch (cause) {
    tellCardsAt({ position: before?.position ?? 0, at: before?.at, stopped: stoppedBy(cause) });
    return false;
  }
}

function stoppedBy(cause: unknown): CardsAt["stopped"] {
  if (!(cause instanceof ServerTrouble)) return "no_answer";
  if (cause.words.code === "station_withdrawn") return "withdrawn";
  return cause.status === 401 ? "not_known" : "no_answer";
}

interface Pin {
  readonly sha256: string;
  readonly text: string | undefined;
}

type PinName = (typeof PINS)[number];

/** What holds now: the pin always, its text where it is new. Raises NoAnswer where a text has another hash. */
function pinsOf(json: Row): readonly (readonly [PinName, Pin])[] {
  return PINS.flatMap((name) => {
    const { sha256, text } = (json[name] ?? {}) as { sha256?: string; text?: string | null };
    if (sha256 === undefined) return [];
    if (typeof text === "string" && sha256Text(text) !== sha256) throw new NoAnswer(`the ${name} has another hash`);
    return [[name, { sha256, text: text ?? undefined }] as const];
  });
}

/** The rows of a table with what each is kept under. Raises NoAnswer for a row without a name. */
function rowsOf(json: Row, table: Table): readonly CardRow[] {
  const rows = json[table];
  if (!Array.isArray(rows)) return [];
  return (rows as Row[]).map((given) => {
    const row = shaped(table, given);
    const id = idOf(table, row);
    if (id === undefined) throw new NoAnswer(`a row of ${table} has no name`);
    return { table, id, words: wordsOf(table, row), row };
  });
}

async function keep(json: Row): Promise<Meta["cards"]> {
  const position = json["position"];
  if (!Number.isSafeInteger(position)) throw new NoAnswer("no position");
  const epoch = epochOf(json["epoch"]);
  const pins = pinsOf(json);
  const tables = Object.keys(TABLES) as Table[];
  const rows = new Map(tables.map((table) => [table, rowsOf(json, table)]));
  const at = { position: position as number, epoch: epoch.id, at: moment(settings().now()) };
  const hidden = Array.isArray(json["hidden"]) ? (json["hidden"] as HiddenCard[]) : [];
  await write(["cards", "pins", "meta", "open", "held", "photos"], async (tx) => {
    const cards = tx.objectStore("cards");
    await Promise.all(WHOLE.map((table) => cards.delete(wholeTable(table))));
    if (json["whole"] === true) await forget(cards, rows);
    const scopes = rows.get("scopes") ?? [];
    await keepEnds(tx.objectStore("open"), scopes.map(({ row }) => row as Partial<ScopeCard>));
    const held = await Promise.all(scopes.map(({ id }) => cards.index("words").getAllKeys(`holds ${id}`)));
    await Promise.all(held.flat().map((key) => cards.delete(key)));
    const pinned = (await tx.objectStore("meta").get("pinned")) as Meta["pinned"] | undefined;
    await Promise.all([
      ...[...rows.values()].flat().map((row) => cards.put(row)),
      ...pins.flatMap(([, { sha256, text }]) => (text === undefined ? [] : [tx.objectStore("pins").put(text, sha256)])),
      putMetaIn(tx, "pinned", { ...pinned, ...Object.fromEntries(pins.map(([name, { sha256 }]) => [name, sha256])) }),
      putMetaIn(tx, "cards", at),
      keepHiddenIn(tx, hidden, json["whole"] === true),
      ...(json["facility"] === undefined ? [] : [cards.put({ table: "facility", id: "", words: [], row: json["facility"] })]),
    ]);
  });
  tell("cards");
  return at;
}

/** An inspection that another tablet concluded waits here no more, until its end is taken back; its entries stay. */
async function keepEnds(open: Open, scopes: readonly Partial<ScopeCard>[]): Promise<void> {
  const last = new Map(scopes.map((card) => [card.scope, card.last?.root]));
  const rows = scopes.length === 0 ? [] : await open.getAll();
  await Promise.all(rows.filter((row) => last.has(row.scope) && row.reopened === undefined).map(({ elsewhere: _was, ...row }) => {
    const concluded = last.get(row.scope) === (row.root ?? row.begun);
    return open.put(concluded ? { ...row, elsewhere: 1 } : row);
  }));
}

interface Open {
  getAll(): Promise<OpenRow[]>;
  put(row: OpenRow): Promise<unknown>;
}

function wholeTable(table: Table): IDBKeyRange {
  return IDBKeyRange.bound([table], [table, []]);
}

interface Cards {
  getAll(range: IDBKeyRange): Promise<CardRow[]>;
  delete(key: [string, string] | IDBKeyRange): Promise<unknown>;
}

/** A whole answer replaces what is here, but for a scope registered here that the server has not heard of yet. */
async function forget(cards: Cards, rows: ReadonlyMap<Table, readonly CardRow[]>): Promise<void> {
  const come = new Set((rows.get("scopes") ?? []).map(({ id }) => id));
  const here = await cards.getAll(wholeTable("scopes"));
  const gone = here.filter(({ id, row }) => !come.has(id) && (row as Row)["on_record"] !== false);
  await Promise.all([cards.delete(wholeTable("holds")), cards.delete(wholeTable("cycle")), cards.delete(wholeTable("custody")), cards.delete(wholeTable("repairs")), ...gone.map(({ id }) => cards.delete(["scopes", id]))]);
}

/**
 * Fetches now, when the page comes into view or online, and every minute in view. A browser says nothing where its
 * network stood and the server was gone: a receipt after a fetch without an answer says it, and is as good. The answer
 * ends it.
 */
export function startCards(): () => void {
  const wake = (): void => {
    if (document.visibilityState === "visible") void fetchCards();
  };
  void meta("cards").then((kept) => {
    if (kept !== undefined && lastCardsAt().at === undefined) tellCardsAt({ ...lastCardsAt(), position: kept.position, at: kept.at });
  });
  const timer = setInterval(wake, EVERY_MS);
  document.addEventListener("visibilitychange", wake);
  window.addEventListener("online", wake);
  const stopHearing = onChange((thing) => {
    if (thing === "receipts" && lastCardsAt().stopped === "no_answer") wake();
  });
  wake();
  return () => {
    clearInterval(timer);
    stopHearing();
    document.removeEventListener("visibilitychange", wake);
    window.removeEventListener("online", wake);
  };
}
