/** Which station this browser is. */
import { meta } from "../record/meta";

export interface Enrolled {
  readonly station: string;
  readonly chain: string;
  readonly facility: unknown;
}

/** The station this browser is, or undefined. */
export async function thisStation(): Promise<Enrolled | undefined> {
  const [station, chain] = await Promise.all([meta("station"), meta("chain")]);
  if (station === undefined || chain === undefined) return undefined;
  return { station: station.station, chain: chain.chain, facility: station.facility };
}
