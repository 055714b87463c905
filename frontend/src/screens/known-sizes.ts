/** Things of known size that a scope's record names: the widths of its channels, each from its own instructions. */
import { opening, partName } from "../parts/names";
import type { KnownSize } from "../parts/types";
import { say } from "../parts/words";
import { here } from "./here.svelte";
import type { Inspection } from "./inspection.svelte";

export function knownSizes(inspection: Inspection): readonly KnownSize[] {
  return here.channelsOf(inspection.state?.scope).flatMap(({ channel, inner_um }): readonly KnownSize[] => (
    inner_um === undefined ? [] : [{ what: "channel", size_um: inner_um, channel, label: say("laid.known_channel", { channel: opening(partName(channel)) }) }]
  ));
}
