import { expect, test } from "vitest";
import vectors from "../../../shared/vectors/hashes.json";
import { chainId, hashLine, headMessage, sha256Hex, sha256Text } from "./hash";
import { base64url, makeKey, signHead } from "./keys";

/** shared/vectors/hashes.json: the same cases run in Python (tests/vectors/test_entries.py); each names its source. */
const bytes = (text: string): Uint8Array<ArrayBuffer> => new TextEncoder().encode(text);
const unbase64url = (text: string): Uint8Array<ArrayBuffer> =>
  Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (char) => char.charCodeAt(0));

function spelled(text: string): string {
  const [letter = "", times] = text.split("*");
  return times === undefined ? letter : letter.repeat(Number(times));
}

test.each(vectors.plain)("plain: $description", async ({ input, expected }) => {
  expect(sha256Text(spelled(input))).toBe(expected);
  expect(await sha256Hex(bytes(spelled(input)))).toBe(expected);
});
test.each(vectors.entry)("an entry: $description", ({ input, expected }) => expect(hashLine(bytes(input))).toBe(expected));
test.each(vectors.chain)("a chain: $description", ({ input, expected }) => expect(chainId(unbase64url(input))).toBe(expected));
test.each(vectors.head)("a head's message: $description", async ({ input, expected }) => {
  const message = headMessage(input.chain, input.seq, input.hash);
  expect(await sha256Hex(message as Uint8Array<ArrayBuffer>)).toBe(expected);
});

const verify = async (spki: string, message: Uint8Array, sig: string): Promise<boolean> => {
  const algorithm = { name: "ECDSA", namedCurve: "P-256" };
  const key = await crypto.subtle.importKey("spki", unbase64url(spki), algorithm, false, ["verify"]);
  const raw = unbase64url(sig);
  return crypto.subtle.verify({ name: "ECDSA", hash: "SHA-256" }, key, raw, message as Uint8Array<ArrayBuffer>);
};

test.each(vectors.ecdsa)("ECDSA: $description", async ({ input, expected }) => {
  expect(await verify(input.spki, bytes(input.message), input.sig)).toBe(expected);
});

test("a head signed here is good for its chain, place and hash alone", async () => {
  const { key, chain, publicKey } = await makeKey();
  const sig = await signHead(key, chain, 7, "e".repeat(64));
  expect(unbase64url(sig)).toHaveLength(64);
  expect(base64url(unbase64url(sig))).toBe(sig);
  expect(await verify(publicKey, headMessage(chain, 7, "e".repeat(64)), sig)).toBe(true);
  expect(await verify(publicKey, headMessage(chain, 8, "e".repeat(64)), sig)).toBe(false);
  expect(chainId(unbase64url(publicKey))).toBe(chain);
  await expect(crypto.subtle.exportKey("pkcs8", key)).rejects.toThrow();
});
