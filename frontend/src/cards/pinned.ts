/** Catalogue, policy and frequency: those that hold now, and any older one an entry pins by hash. */
import { meta } from "../record/meta";
import { pinned } from "../record/pins";
import type { Catalogue } from "../rules/chain-catalogue";
import type { Frequency } from "../rules/frequency";
import type { Policy } from "../rules/policy";

export type { Frequency };

export interface Pinned<T> {
  readonly sha256: string;
  readonly value: T;
}

async function now<T>(name: "catalogue" | "policy" | "frequency"): Promise<Pinned<T> | undefined> {
  const sha256 = (await meta("pinned"))?.[name];
  if (sha256 === undefined) return undefined;
  const value = (await pinned(sha256)) as T | undefined;
  return value === undefined ? undefined : { sha256, value };
}

export const catalogueNow = (): Promise<Pinned<Catalogue> | undefined> => now("catalogue");
export const policyNow = (): Promise<Pinned<Policy> | undefined> => now("policy");
export const frequencyNow = (): Promise<Pinned<Frequency> | undefined> => now("frequency");

/** The catalogue an inspection pins, or undefined where its text is not here. */
export function pinnedCatalogue(sha256: string): Promise<Catalogue | undefined> {
  return pinned(sha256) as Promise<Catalogue | undefined>;
}

export function pinnedPolicy(sha256: string): Promise<Policy | undefined> {
  return pinned(sha256) as Promise<Policy | undefined>;
}
