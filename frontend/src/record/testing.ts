/** For tests of this folder: a store of its own, a chain, entries that fit the rules. */
import { makeKey } from "./keys";
import { putMeta } from "./meta";
import { keepPin } from "./pins";
import { configureRecord } from "./setting";
import { refreshStatus, type Status, status } from "./status";
import { closeStore } from "./store";
import type { By, NewEntryOf, NewPhoto, Sha256, Shows } from "./entry";
import type { Point } from "./kinds";
import { hashPhoto } from "./hash";

export const ILA: By = { person: "ila.venn", proof: { how: "named", where: "offline" } };
export const SCOPE = "mms:alder|a180|4410221";

let stores = 0;

/** A new empty store with a key and a chain. Answers the chain's id. */
export async function newTablet(catalogueText: string, now?: () => Date): Promise<{ chain: Sha256; catalogue: Sha256; publicKey: string }> {
  stores += 1;
  configureRecord({ store: `tablet-${stores}-${crypto.randomUUID()}`, build: "test", ...(now === undefined ? {} : { now }) });
  await closeStore();
  const made = await makeKey();
  await putMeta("chain", { chain: made.chain, key: made.key });
  await putMeta("head", { seq: 0, hash: made.chain });
  await putMeta("station", { station: "sink-1", token: "token", facility: null });
  return { chain: made.chain, publicKey: made.publicKey, catalogue: await keepPin(catalogueText) };
}

/** A photo of random bytes; at most 64 KiB a call of the random source, so it is filled in pieces. */
export async function photo(shows: Shows, size = 1000): Promise<NewPhoto> {
  const bytes = new Uint8Array(size);
  for (let at = 0; at < size; at += 65536) crypto.getRandomValues(bytes.subarray(at, Math.min(size, at + 65536)));
  return { sha256: await hashPhoto(bytes.buffer), bytes: bytes.buffer, type: "image/jpeg", width: 10, height: 10, shows };
}

export function begun(catalogue: Sha256, point: Point = "after_cleaning"): NewEntryOf<"inspection.begun"> {
  const body = {
    point, scope_kind: "colonoscope", catalogue, policy: "0".repeat(64), shift: "sinks/2026-11-25/day",
    identified: { by: "typed" },
  } as const;
  return { kind: "inspection.begun", by: ILA, about: { scope: SCOPE }, body };
}

export function serial(inspection: Sha256, ...photos: NewPhoto[]): NewEntryOf<"serial.photographed"> {
  return { kind: "serial.photographed", by: ILA, about: { scope: SCOPE, inspection }, body: { how: "unreadable", agrees: "unknown" }, photos };
}

export function marked(inspection: Sha256, ...parts: string[]): NewEntryOf<"part.marked"> {
  return { kind: "part.marked", by: ILA, about: { scope: SCOPE, inspection }, body: { mark: "nothing_found", parts } };
}

export function finding(inspection: Sha256, part: string, ...photos: NewPhoto[]): NewEntryOf<"finding.recorded"> {
  const body = { part, finding: "soil", grade: "present", since: "new" } as const;
  return { kind: "finding.recorded", by: ILA, about: { scope: SCOPE, inspection }, body, photos };
}

export function withdrawn(entry: Sha256, inspection?: Sha256): NewEntryOf<"entry.withdrawn"> {
  return {
    kind: "entry.withdrawn", by: ILA, about: { scope: SCOPE, ...(inspection === undefined ? {} : { inspection }) },
    body: { entry, reason: "undo" },
  };
}

/** The status as the store has it now. */
export async function readNow(): Promise<Status> {
  await refreshStatus();
  let now: Status | undefined;
  status.subscribe((value) => (now = value))();
  if (now === undefined) throw new Error("a readable tells at once");
  return now;
}
