/** A station's key: P-256, made by WebCrypto, not extractable. It signs heads, never entries. */
import type { Sha256 } from "./entry";
import { chainId, headMessage } from "./hash";

const P256 = { name: "ECDSA", namedCurve: "P-256" } as const;

export interface NewKey {
  readonly key: CryptoKey;
  readonly chain: Sha256;
  /** SPKI, DER, base64url without padding: what the server is given. */
  readonly publicKey: string;
}

export function base64url(bytes: Uint8Array): string {
  let text = "";
  for (const byte of bytes) text += String.fromCharCode(byte);
  return btoa(text).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

export async function makeKey(): Promise<NewKey> {
  const pair = await crypto.subtle.generateKey(P256, false, ["sign", "verify"]);
  const spki = new Uint8Array(await crypto.subtle.exportKey("spki", pair.publicKey));
  return { key: pair.privateKey, chain: chainId(spki), publicKey: base64url(spki) };
}

/** Raw r‖s, 64 bytes, base64url without padding: one signature proves the head and all before it. */
export async function signHead(key: CryptoKey, chain: Sha256, seq: number, hash: Sha256): Promise<string> {
  const message = headMessage(chain, seq, hash) as Uint8Array<ArrayBuffer>;
  return base64url(new Uint8Array(await crypto.subtle.sign({ name: "ECDSA", hash: "SHA-256" }, key, message)));
}
