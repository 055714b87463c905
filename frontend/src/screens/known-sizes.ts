/** Things of known size that a scope's record names, from its own instructions: its tube's outer width, its channels' inner ones. */
import { opening, partName } from "../parts/names";
import type { KnownSize } from "../parts/types";
import { say } from "../parts/words";
import { here } from "./here.svelte";
import type { Inspection } from "./inspection.svelte";

export function knownSizes(inspection: Inspection): readonly KnownSize[] {
  const scope = inspection.state?.scope;
  const tube = scope === undefined ? undefined : here.scopes[scope]?.tube_um;
  const outer: readonly KnownSize[] = tube == null ? [] : [{ what: "tube", size_um: tube }];
  const inner = here.channelsOf(scope).flatMap(({ channel, inner_um }): readonly KnownSize[] => (
    inner_um === undefined ? [] : [{ what: "channel", size_um: inner_um, channel, label: say("laid.known_channel", { channel: opening(partName(channel)) }) }]
  ));
  return [...outer, ...inner];
}
