/** The tablet's record on `window.tablet`, with a few acts that tests call by name. */
import * as cards from "../../../../frontend/src/cards";
import * as record from "../../../../frontend/src/record";
import { keepPin } from "../../../../frontend/src/record/pins";
import { read, write } from "../../../../frontend/src/record/store";
import * as make from "../../../../frontend/src/record/testing";
import { hashLine } from "../../../../frontend/src/record/hash";
import { readLine } from "../../../../frontend/src/record/line";
import catalogue from "../../../../shared/catalogue/catalogue.json";

const CATALOGUE = JSON.stringify(catalogue);
record.configureRecord({ build: "test" });

let now: record.Status | undefined;
record.status.subscribe((value) => (now = value));

/** Enrols this browser and keeps a catalogue. */
async function setUp(): Promise<string> {
  await cards.enrol("CODE");
  await keepPin(CATALOGUE);
  return (await cards.thisStation())?.chain ?? "";
}

/** Begins an inspection part with a serial photo of so many bytes; answers its hash. */
async function begin(bytes = 2000): Promise<string> {
  const begun = await record.append(make.begun(await keepPin(CATALOGUE)));
  await record.append(make.serial(begun.hash, await make.photo("serial", bytes)));
  return begun.hash;
}

/** Makes this browser the first station of a real server, signs its first lead in, and fetches the cards. */
async function setUpFirst(code: string): Promise<string> {
  const person = { name: "Moira Keld", pin: PIN };
  const enrolled = await cards.enrolFirst({ code, person, station: { name: "Sink 1", place: "sinks", side: "both" } });
  await cards.fetchCards();
  return enrolled.signedIn.person;
}
const PIN = "593047";

/** An inspection under the server's own catalogue and policy, by the person signed in: begun, serial photo, findings. */
async function inspectReally(findings: number, bytes: number): Promise<string> {
  const [catalogue, policy, by] = [await cards.catalogueNow(), await cards.policyNow(), cards.by()];
  if (catalogue === undefined || policy === undefined || by === undefined) throw new Error("not set up");
  const begun = make.begun(catalogue.sha256);
  const { hash } = await record.append({ ...begun, by, body: { ...begun.body, policy: policy.sha256 } });
  await record.append({ ...make.serial(hash, await make.photo("serial", bytes)), by });
  for (let at = 0; at < findings; at += 1) {
    await record.append({ ...make.finding(hash, "lens", await make.photo("finding", bytes)), by });
  }
  return hash;
}

/** The server's own head of this tablet's chain. */
async function serverHead(): Promise<unknown> {
  const station = (await read(["meta"], (tx) => tx.objectStore("meta").get("station"))) as { token: string };
  const chain = (await cards.thisStation())?.chain ?? "";
  const response = await fetch(`/chains/${chain}/head`, { headers: { Authorization: `Station ${station.token}` } });
  return response.json();
}

/** Saves one finding with photos of random bytes. */
async function find(inspection: string, photos: number, bytes: number): Promise<record.Saved> {
  const shots = await Promise.all(Array.from({ length: photos }, () => make.photo("finding", bytes)));
  return record.append(make.finding(inspection, "lens", ...shots));
}

/** Saves without end; tells a marker after each save, without waiting that it arrives. */
async function saveWithoutEnd(inspection: string, photos: number, bytes: number): Promise<void> {
  for (;;) {
    const saved = await find(inspection, photos, bytes);
    void fetch("/marker", { method: "POST", body: JSON.stringify(saved), keepalive: false });
  }
}

/** A tablet's whole life, or the rest of it: set up and begun where it is not, then findings without end. Each save is marked. */
async function liveOn(photos: number, bytes: number): Promise<void> {
  const mark = (saved: record.Saved): void => void fetch("/marker", { method: "POST", body: JSON.stringify(saved), keepalive: false });
  if ((await cards.thisStation()) === undefined) await setUp();
  const catalogue = await keepPin(CATALOGUE);
  let inspection = (await record.openParts())[0]?.begun;
  if (inspection === undefined) {
    const begun = await record.append(make.begun(catalogue));
    mark(begun);
    inspection = begun.hash;
  }
  if ((await record.inspectionState(inspection))?.serial !== true) mark(await record.append(make.serial(inspection, await make.photo("serial", bytes))));
  for (;;) mark(await find(inspection, photos, bytes));
}

interface Looked {
  readonly rows: { seq: number; hash: string; prev: string; photos: string[] }[];
  /** Where the chain's own hashes, links or seqs do not hold. */
  readonly broken: number[];
  /** Photos named by an entry whose bytes are not here or have another hash. */
  readonly missing: string[];
  /** This tablet's chain, and how many entries the store has of any chain. */
  readonly chain: string;
  readonly all: number;
}

/** Reads the whole store and checks it: seqs, links, hashes, photo bytes. */
async function look(): Promise<Looked> {
  const chain = (await cards.thisStation())?.chain ?? "";
  const rows = await read(["entries"], (tx) => tx.objectStore("entries").getAll());
  const own = rows.filter((row) => row.chain === chain);
  const broken: number[] = [];
  let before = chain;
  for (const [at, row] of own.entries()) {
    const hash = hashLine(row.line);
    if (row.seq !== at + 1 || hash !== row.hash || readLine(row.line).prev !== before) broken.push(row.seq);
    before = hash;
  }
  const missing: string[] = [];
  for (const { sha256 } of own.flatMap((row) => row.photos)) {
    const photo = await read(["photos"], (tx) => tx.objectStore("photos").get(sha256));
    if (photo === undefined || (await record.sha256Hex(photo.bytes)) !== sha256) missing.push(sha256);
  }
  const told = own.map((row) => ({
    seq: row.seq, hash: row.hash, prev: readLine(row.line).prev, photos: row.photos.map(({ sha256 }) => sha256),
  }));
  return { rows: told, broken, missing, chain, all: rows.length };
}

/** Saves, and answers what became of it in words a test can read. */
async function tryToFind(inspection: string, photos: number, bytes: number): Promise<unknown> {
  try {
    return { saved: await find(inspection, photos, bytes) };
  } catch (cause) {
    if (cause instanceof record.NoRoom) return { trouble: cause.code, kept: cause.kept, notKept: cause.notKept };
    return { trouble: String(cause) };
  }
}

/** Rounds of sending until nothing waits or so many rounds were made; answers how many. */
async function drain(most: number): Promise<number> {
  for (let round = 1; round <= most; round += 1) {
    await record.sendNow();
    await record.refreshStatus();
    if (now?.unsent === 0 && now.unsentPhotos === 0) return round;
  }
  return most + 1;
}

/** Changes one byte of a photo as a rotten disk would, or takes its row away. */
async function spoil(sha256: string): Promise<void> {
  await write(["photos"], async (tx) => {
    const row = await tx.objectStore("photos").get(sha256);
    if (row === undefined) throw new Error("no such photo");
    const bytes = new Uint8Array(row.bytes.slice(0));
    bytes[7] = (bytes[7] ?? 0) ^ 1;
    await tx.objectStore("photos").put({ ...row, bytes: bytes.buffer });
  });
}

/** Every durability a read-write transaction was opened with from now on. */
function watchTransactions(): string[] {
  const seen: string[] = [];
  const original = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (...given: Parameters<IDBDatabase["transaction"]>) {
    const tx = original.apply(this, given);
    if (tx.mode !== "readonly") seen.push(tx.durability);
    return tx;
  };
  return seen;
}

/** Times of saves with photos, and of bare strict transactions with the same bytes, one after the other; ms. */
async function measure(times: number, photos: number, bytes: number): Promise<{ save: number[]; bare: number[] }> {
  const bare: number[] = [];
  const save: number[] = [];
  const db = await new Promise<IDBDatabase>((resolve, reject) => {
    const request = indexedDB.open("bare", 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("entries");
      request.result.createObjectStore("photos");
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error ?? new Error("no store"));
  });
  const inspection = await begin();
  for (let at = 0; at < times; at += 1) {
    const shots = await Promise.all(Array.from({ length: photos }, () => make.photo("finding", bytes)));
    const others = await Promise.all(Array.from({ length: photos }, () => make.photo("finding", bytes)));
    const started = performance.now();
    await record.append(make.finding(inspection, "lens", ...shots));
    const between = performance.now();
    await new Promise<void>((resolve, reject) => {
      const tx = db.transaction(["entries", "photos"], "readwrite", { durability: "strict" });
      tx.objectStore("entries").put(new Uint8Array(700), at);
      for (const photo of others) tx.objectStore("photos").put(photo.bytes, photo.sha256);
      tx.oncomplete = () => resolve();
      tx.onabort = () => reject(tx.error ?? new Error("aborted"));
    });
    bare.push(performance.now() - between);
    save.push(between - started);
  }
  return { save, bare };
}

/** Reads, and the browser takes the transaction away under the hand; answers the name of what the reader hears. */
async function readTakenAway(): Promise<string> {
  try {
    await read(["entries"], async (tx) => {
      const rows = tx.objectStore("entries").getAll();
      tx.abort();
      return rows;
    });
    return "nothing";
  } catch (cause) {
    return cause instanceof Error ? cause.name : String(cause);
  }
}

const tablet = {
  ...record, cards, make, setUp, setUpFirst, inspectReally, serverHead, begin, find, saveWithoutEnd, liveOn, look, tryToFind, drain, spoil, watchTransactions, measure, readTakenAway,
  now: () => now,
};
export type Tablet = typeof tablet;
(globalThis as unknown as { tablet: Tablet }).tablet = tablet;
document.documentElement.dataset["settled"] = "";
