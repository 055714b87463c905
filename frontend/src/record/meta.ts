/** `meta` with the type each key holds. */
import type { Meta } from "./schema";
import { read, write } from "./store";

interface MetaReader {
  objectStore(name: "meta"): { get(key: string): Promise<unknown> };
}
interface MetaWriter {
  objectStore(name: "meta"): { put(value: Meta[keyof Meta], key: string): Promise<unknown> };
}

/** Inside a transaction that has `meta` in its scope. */
export function metaIn<K extends keyof Meta>(tx: MetaReader, key: K): Promise<Meta[K] | undefined> {
  return tx.objectStore("meta").get(key) as Promise<Meta[K] | undefined>;
}

export async function putMetaIn<K extends keyof Meta>(tx: MetaWriter, key: K, value: Meta[K]): Promise<void> {
  await tx.objectStore("meta").put(value, key);
}

export function meta<K extends keyof Meta>(key: K): Promise<Meta[K] | undefined> {
  return read(["meta"], (tx) => metaIn(tx, key));
}

export function putMeta<K extends keyof Meta>(key: K, value: Meta[K]): Promise<void> {
  return write(["meta"], (tx) => putMetaIn(tx, key, value));
}
