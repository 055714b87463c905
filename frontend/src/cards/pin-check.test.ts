import "fake-indexeddb/auto";
import { beforeEach, expect, test } from "vitest";
import { meta } from "../record/meta";
import { newTablet } from "../record/testing";
import { checkOffline, forgetCheck, GOOD_FOR_MS, keepCheck, STOP_AT } from "./pin-check";
import { NoPinCheck, PinStopped, WrongPin } from "./trouble";

const FAST = 1000;
const PIN = "481937";
let ms = 0;

beforeEach(async () => {
  ms = Date.parse("2026-03-02T08:00:00Z");
  await newTablet("{}", () => new Date(ms));
  await keepCheck("ila_venn", PIN, ["technician"], FAST);
});

test("the PIN of an online sign-in is known without the network, with the roles of then", async () => {
  expect(await checkOffline("ila_venn", PIN)).toEqual(["technician"]);
});

test("after 30 days, for another name, or with the clock put back, this tablet cannot tell", async () => {
  await expect(checkOffline("rin_oake", PIN)).rejects.toThrow(NoPinCheck);
  ms += GOOD_FOR_MS + 1;
  await expect(checkOffline("ila_venn", PIN)).rejects.toThrow(NoPinCheck);
  ms -= GOOD_FOR_MS + 86_400_000;
  await expect(checkOffline("ila_venn", PIN)).rejects.toThrow(NoPinCheck);
});

test("wrong PINs wait longer and longer and stop at ten; going on by name is not this check's matter", async () => {
  const waits: number[] = [];
  for (let at = 1; at < STOP_AT; at += 1) {
    const wrong: unknown = await checkOffline("ila_venn", "000001").catch((cause: unknown) => cause);
    expect(wrong).toBeInstanceOf(WrongPin);
    waits.push((wrong as WrongPin).waitS);
    await expect(checkOffline("ila_venn", PIN)).rejects.toThrow(WrongPin);
    ms += (wrong as WrongPin).waitS * 1000;
  }
  expect(waits).toEqual([1, 2, 4, 8, 16, 32, 60, 60, 60]);
  await expect(checkOffline("ila_venn", "000001")).rejects.toThrow(PinStopped);
  ms += 3_600_000;
  await expect(checkOffline("ila_venn", PIN)).rejects.toThrow(PinStopped);
});

test("a right PIN forgets the wrong ones, and a name switched off is forgotten", async () => {
  await checkOffline("ila_venn", "000001").catch(() => undefined);
  ms += 1000;
  await checkOffline("ila_venn", PIN);
  expect(await checkOffline("ila_venn", "000001").catch((cause: unknown) => (cause as WrongPin).waitS)).toBe(1);
  await forgetCheck("ila_venn");
  await expect(checkOffline("ila_venn", PIN)).rejects.toThrow(NoPinCheck);
});

test("the key that makes the check cannot leave the browser", async () => {
  const key = await meta("pin_key");
  expect(key?.extractable).toBe(false);
});
