/** SHA-256 by domain. The synchronous one exists because nothing may be awaited inside a transaction. */
import { sha256 } from "@noble/hashes/sha2.js";
import { bytesToHex, utf8ToBytes } from "@noble/hashes/utils.js";
import type { Sha256 } from "./entry";

const ENTRY = utf8ToBytes("loupebook/entry/1\n");
const CHAIN = utf8ToBytes("loupebook/chain/1\n");

function domained(prefix: Uint8Array, bytes: Uint8Array): Sha256 {
  return bytesToHex(sha256.create().update(prefix).update(bytes).digest());
}

/** The identity of an entry: over the line's own bytes, without the line feed. */
export function hashLine(line: Uint8Array): Sha256 {
  return domained(ENTRY, line);
}

/** A chain's id from its public key (SPKI, DER). */
export function chainId(spki: Uint8Array): Sha256 {
  return domained(CHAIN, spki);
}

/** What a head's signature is over. */
export function headMessage(chain: Sha256, seq: number, hash: Sha256): Uint8Array {
  return utf8ToBytes(`loupebook/head/1\n${chain}\n${seq}\n${hash}`);
}

/** Plain SHA-256 of a text's UTF-8 bytes: the pin of a catalogue, a policy, a frequency table. */
export function sha256Text(text: string): Sha256 {
  return bytesToHex(sha256(utf8ToBytes(text)));
}

/** Plain SHA-256 by WebCrypto: for photos, outside any transaction. */
export async function sha256Hex(bytes: BufferSource): Promise<Sha256> {
  return bytesToHex(new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)));
}

/** The name of a photo: plain SHA-256 of its bytes, so that anybody can check it with a standard tool. */
export async function hashPhoto(bytes: ArrayBuffer): Promise<Sha256> {
  return sha256Hex(bytes);
}
