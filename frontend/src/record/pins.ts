/** Catalogue, policy and frequency texts by the SHA-256 of their text; parsed once, never trusted without the hash. */
import type { Sha256 } from "./entry";
import { sha256Text } from "./hash";
import { onLost, read, write } from "./store";

const parsed = new Map<Sha256, unknown>();
onLost(() => parsed.clear());

interface PinReader {
  objectStore(name: "pins"): { get(key: string): Promise<string | undefined> };
}

/** The parsed text of a pin, or undefined when it is not here or its bytes changed. Inside a transaction with `pins`. */
export async function pinIn(tx: PinReader, sha256: Sha256): Promise<unknown> {
  const known = parsed.get(sha256);
  if (known !== undefined) return known;
  const text = await tx.objectStore("pins").get(sha256);
  if (text === undefined || sha256Text(text) !== sha256) return undefined;
  const value: unknown = JSON.parse(text);
  parsed.set(sha256, value);
  return value;
}

export function pinned(sha256: Sha256): Promise<unknown> {
  return read(["pins"], (tx) => pinIn(tx, sha256));
}

/** Keeps a text under its own hash, which is answered. */
export async function keepPin(text: string): Promise<Sha256> {
  const sha256 = sha256Text(text);
  await write(["pins"], (tx) => tx.objectStore("pins").put(text, sha256));
  return sha256;
}
