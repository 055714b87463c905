/** What was seen last time: the photo of a part and of the serial number, kept on the tablet for work without a network. */
import { hiddenPhotos, isHiddenIn } from "../record/hidden";
import { meta } from "../record/meta";
import { settings } from "../record/setting";
import { read, write } from "../record/store";
import { inspectionState, partsOfScope, photoBytes } from "../record/state";
import { scopeByKey } from "./look";
import type { AskedCard, ExampleCard, LaidCard, PartCard, ScopeCard } from "./rows";

/** The last photo of a part before this inspection. `bytes` undefined = known, but not on this tablet. */
export interface LastPhoto {
  readonly sha256: string;
  readonly at: number;
  readonly mark: "nothing_found" | "finding" | "could_not_look" | "not_looked";
  readonly laid?: LaidCard | undefined;
  readonly bytes: Blob | undefined;
}

/** An example of a finding and grade, with its picture where it is here. */
export interface Example extends ExampleCard {
  readonly bytes: Blob | undefined;
}

export interface LastSerial {
  readonly sha256: string;
  readonly at: string;
  readonly where: string | undefined;
  readonly bytes: Blob | undefined;
}

const TABLE = "then";

export async function lastPhotoOf(scope: string, part: string): Promise<LastPhoto | undefined> {
  const card = await partCard(scope, part);
  if (card?.photo == null) return undefined;
  const { sha256, when_ms: at, laid } = card.photo;
  return { sha256, at, laid, mark: card.mark ?? "not_looked", bytes: await kept(sha256) };
}

/** A photo of a part from before this inspection: of last time, of the last acceptance, the first of all. */
export interface ThenPhoto {
  readonly id: "last" | "acceptance" | "first";
  readonly sha256: string;
  readonly at: number;
  readonly laid?: LaidCard | undefined;
  /** Undefined = known, but not on this tablet. */
  readonly bytes: Blob | undefined;
}

/** Each photo once, under the first name it has. */
export async function thenPhotosOf(scope: string, part: string): Promise<readonly ThenPhoto[]> {
  const card = await partCard(scope, part);
  const named = [["last", card?.photo], ["acceptance", card?.acceptance], ["first", card?.first]] as const;
  const found = new Map<string, Omit<ThenPhoto, "bytes">>();
  for (const [id, photo] of named) if (photo != null && !found.has(photo.sha256)) found.set(photo.sha256, { id, sha256: photo.sha256, at: photo.when_ms, laid: photo.laid });
  return Promise.all([...found.values()].map(async (photo) => ({ ...photo, bytes: await kept(photo.sha256) })));
}

/** What was found at a part last, while it is its newest mark. */
export async function knownWear(scope: string, part: string): Promise<NonNullable<PartCard["finding"]> | undefined> {
  const card = await partCard(scope, part);
  return card?.mark === "finding" ? (card.finding ?? undefined) : undefined;
}

async function partCard(scope: string, part: string): Promise<PartCard | undefined> {
  return (await scopeByKey(scope))?.parts?.find((each) => each.part === part);
}

export async function lastSerialPhoto(scope: string): Promise<LastSerial | undefined> {
  const last = (await scopeByKey(scope))?.serial_photo;
  if (last == null) return ownSerialPhoto(scope);
  return { sha256: last.photo, at: last.at, where: last.where ?? undefined, bytes: await kept(last.photo) };
}

/** The serial photo of this tablet's own last inspection of the scope, where the server's card has none yet. */
async function ownSerialPhoto(scope: string): Promise<LastSerial | undefined> {
  const begun = (await partsOfScope(scope, 1))[0];
  const state = begun === undefined ? undefined : await inspectionState(begun.hash);
  const entry = state?.entries.find(({ entry: each, live }) => live && each.kind === "serial.photographed")?.entry;
  const sha256 = entry?.photos[0]?.sha256;
  if (entry === undefined || sha256 === undefined) return undefined;
  return { sha256, at: entry.at, where: undefined, bytes: await photoBytes(sha256) };
}

/** The facility's own examples of one finding, those of a grade together, the newest first. */
export async function examplesOf(finding: string): Promise<readonly Example[]> {
  const cards = (await examplesHere()).filter((card) => card.finding === finding);
  const found = await Promise.all(cards.map(async (card) => ({ ...card, bytes: await kept(card.photo) })));
  return found.sort((one, other) => other.at.localeCompare(one.at));
}

/** A picture that the cards name, where it is here and not hidden. */
export const pictureOf = (sha256: string): Promise<Blob | undefined> => kept(sha256);

/** A small picture that is kept here, or that the server has now; nothing where neither can show it. */
export async function smallPhoto(sha256: string): Promise<Blob | undefined> {
  const here = await kept(sha256);
  if (here !== undefined || (await hiddenPhotos()).has(sha256)) return here;
  const station = await meta("station");
  return station !== undefined && (await fetchOne(sha256, station.token)) === "kept" ? kept(sha256) : undefined;
}

async function kept(sha256: string): Promise<Blob | undefined> {
  const row = await read(["cards"], async (tx) => ((await isHiddenIn(tx, sha256)) ? undefined : tx.objectStore("cards").get([TABLE, sha256])));
  const small = row?.row as { readonly bytes: ArrayBuffer; readonly type: string } | undefined;
  return small === undefined ? photoBytes(sha256) : new Blob([small.bytes], { type: small.type });
}

const AT_ONCE = 4;
/**
 * Pictures kept for work without a network, 640 px each: 32 kB at the median of the demo's drawn ones, 41 to 85 kB (median
 * 50) of six real photos with noise 4, so 4,000 are about 200 MB and 340 MB at most. Serial photos and those of last time
 * come first, then acceptances, then the first ones.
 */
export const MOST_KEPT = 4_000;
let running: Promise<void> | undefined;

/** Fetches the small pictures that the cards name and the tablet lacks, and drops those that no card names. */
export function fetchThen(): Promise<void> {
  running ??= fetchMissing().finally(() => (running = undefined));
  return running;
}

async function fetchMissing(): Promise<void> {
  const station = await meta("station");
  if (station === undefined) return;
  const hidden = await hiddenPhotos();
  const named = [...(await askedPhotos()), ...(await examplesHere()).map(({ photo }) => photo), ...wantedOf(await scopesHere())];
  const wanted = new Set(named.filter((sha256) => !hidden.has(sha256)));
  const here = new Set(await keysHere());
  const gone = [...here].filter((sha256) => !wanted.has(sha256));
  if (gone.length > 0) {
    await write(["cards"], (tx) => Promise.all(gone.map((sha256) => tx.objectStore("cards").delete([TABLE, sha256]))));
  }
  const missing = [...wanted].filter((sha256) => !here.has(sha256));
  for (let at = 0; at < missing.length; at += AT_ONCE) {
    const got = await Promise.all(missing.slice(at, at + AT_ONCE).map((sha256) => fetchOne(sha256, station.token)));
    if (got.every((one) => one === "no_answer")) return; // the next fetch of the cards tries again
  }
}

/** "not_now": the server answered and has no picture to give, not yet or never to this tablet; the others are still asked for. */
async function fetchOne(sha256: string, token: string): Promise<"kept" | "not_now" | "no_answer"> {
  const { base, fetch } = settings();
  try {
    const reply = await fetch(`${base}/photos/${sha256}?size=640`, {
      headers: { Authorization: `Station ${token}` }, cache: "no-store", credentials: "omit", redirect: "error",
    });
    if (reply.headers.get("X-Loupebook") !== "1" || reply.status === 401) return "no_answer";
    const type = reply.headers.get("Content-Type") ?? "";
    if (reply.status !== 200 || !type.startsWith("image/")) return "not_now";
    const bytes = await reply.arrayBuffer();
    await write(["cards"], (tx) => tx.objectStore("cards").put({ table: TABLE, id: sha256, words: [], row: { bytes, type } }));
    return "kept";
  } catch {
    return "no_answer";
  }
}

async function scopesHere(): Promise<readonly ScopeCard[]> {
  const rows = await read(["cards"], (tx) => tx.objectStore("cards").getAll(IDBKeyRange.bound(["scopes"], ["scopes", []])));
  return rows.map((row) => row.row as ScopeCard);
}

async function examplesHere(): Promise<readonly ExampleCard[]> {
  const rows = await read(["cards"], (tx) => tx.objectStore("cards").getAll(IDBKeyRange.bound(["examples"], ["examples", []])));
  return rows.map((row) => row.row as ExampleCard);
}

/** What a second opinion is asked of: first of all, for somebody waits for it. */
async function askedPhotos(): Promise<readonly string[]> {
  const rows = await read(["cards"], (tx) => tx.objectStore("cards").getAll(IDBKeyRange.bound(["asked"], ["asked", []])));
  return rows.flatMap((row) => (row.row as unknown as AskedCard).photos);
}

async function keysHere(): Promise<readonly string[]> {
  const keys = await read(["cards"], (tx) => tx.objectStore("cards").getAllKeys(IDBKeyRange.bound([TABLE], [TABLE, []])));
  return keys.map((key) => String((key as unknown as readonly [string, string])[1]));
}

/** The pictures to keep, the most needed first, as many as there is room for. */
export function wantedOf(cards: readonly ScopeCard[], most = MOST_KEPT): readonly string[] {
  const parts = cards.flatMap((card): readonly PartCard[] => card.parts ?? []);
  const all = [
    ...cards.map((card) => card.serial_photo?.photo), ...parts.map(({ photo }) => photo?.sha256),
    ...parts.map(({ acceptance }) => acceptance?.sha256), ...parts.map(({ first }) => first?.sha256),
  ];
  return [...new Set(all.filter((sha256) => sha256 !== undefined))].slice(0, most);
}
