/** Fetches what changed since a log position and keeps it with that position in one transaction. */
import { tell } from "../record/changed";
import { sha256Text } from "../record/hash";
import { meta, putMetaIn } from "../record/meta";
import { moment } from "../record/moment";
import { type Readable, Told } from "../record/readable";
import { epochOf } from "../record/receipt";
import type { CardRow, Meta } from "../record/schema";
import { settings } from "../record/setting";
import { write } from "../record/store";
import { ask, NoAnswer, ServerTrouble } from "../record/wire";
import { type CardsAt, type Row, type Table, TABLES, wordsOf } from "./rows";

const told = new Told<CardsAt>({ position: 0, at: undefined, stopped: undefined });
/** How old what this tablet knows is, and why it is not newer. */
export const cardsAt: Readable<CardsAt> = told;

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
    told.set({ position: kept.position, at: kept.at, stopped: undefined });
    return true;
  } catch (cause) {
    told.set({ position: before?.position ?? 0, at: before?.at, stopped: stoppedBy(cause) });
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
  readonly text: string;
}

/** The texts that came, each under the hash it really has. Raises NoAnswer where a text has another one. */
function pinsOf(json: Row): ReadonlyMap<(typeof PINS)[number], Pin> {
  const found = new Map<(typeof PINS)[number], Pin>();
  for (const name of PINS) {
    const { sha256, text } = (json[name] ?? {}) as Partial<Pin>;
    if (sha256 === undefined || text === undefined) continue;
    if (sha256Text(text) !== sha256) throw new NoAnswer(`the ${name} has another hash`);
    found.set(name, { sha256, text });
  }
  return found;
}

async function keep(json: Row): Promise<Meta["cards"]> {
  const position = json["position"];
  if (!Number.isSafeInteger(position)) throw new NoAnswer("no position");
  const epoch = epochOf(json["epoch"]);
  const pins = pinsOf(json);
  const at = { position: position as number, epoch: epoch.id, at: moment(settings().now()) };
  await write(["cards", "pins", "meta"], async (tx) => {
    const cards = tx.objectStore("cards");
    if (json["whole"] === true) {
      await Promise.all(Object.keys(TABLES).map((table) => cards.delete(IDBKeyRange.bound([table], [table, []]))));
    }
    const pinned = (await tx.objectStore("meta").get("pinned")) as Meta["pinned"] | undefined;
    const now = Object.fromEntries([...pins].map(([name, { sha256 }]) => [name, sha256]));
    await Promise.all([
      ...(Object.keys(TABLES) as Table[]).flatMap((table) => rowsOf(json, table).map((row) => put(cards, table, row))),
      ...[...pins.values()].map(({ sha256, text }) => tx.objectStore("pins").put(text, sha256)),
      putMetaIn(tx, "pinned", { ...pinned, ...now }),
      putMetaIn(tx, "cards", at),
      ...(json["facility"] === undefined ? [] : [cards.put({ table: "facility", id: "", words: [], row: json["facility"] })]),
    ]);
  });
  tell("cards");
  return at;
}

function rowsOf(json: Row, table: Table): readonly Row[] {
  const rows = json[table];
  return Array.isArray(rows) ? (rows as Row[]) : [];
}

interface Cards {
  put(row: CardRow): Promise<unknown>;
  delete(key: [string, string]): Promise<unknown>;
}

function put(cards: Cards, table: Table, row: Row): Promise<unknown> {
  const id = row[TABLES[table]];
  if (typeof id !== "string") throw new NoAnswer(`a row of ${table} has no name`);
  if (row["gone"] === true) return cards.delete([table, id]);
  return cards.put({ table, id, words: wordsOf(table, row), row });
}

/** Fetches now, when the page comes into view or online, and every minute in view. The answer ends it. */
export function startCards(): () => void {
  const wake = (): void => {
    if (document.visibilityState === "visible") void fetchCards();
  };
  void meta("cards").then((kept) => {
    if (kept !== undefined && told.value.at === undefined) told.set({ ...told.value, position: kept.position, at: kept.at });
  });
  const timer = setInterval(wake, EVERY_MS);
  document.addEventListener("visibilitychange", wake);
  window.addEventListener("online", wake);
  wake();
  return () => {
    clearInterval(timer);
    document.removeEventListener("visibilitychange", wake);
    window.removeEventListener("online", wake);
  };
}
