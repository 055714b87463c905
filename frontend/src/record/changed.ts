/** Tells this window and its sisters that the store changed; what changed is read from the store, never sent. */
import { settings } from "./setting";

export type ChangedThing = "entries" | "receipts" | "drafts" | "cards" | "meta";
type Heard = (thing: ChangedThing) => void;

const heard = new Set<Heard>();
let channel: BroadcastChannel | undefined;

function sisters(): BroadcastChannel | undefined {
  const name = `${settings().store}-changed`;
  if (channel?.name === name || typeof BroadcastChannel === "undefined") return channel;
  channel?.close();
  channel = new BroadcastChannel(name);
  channel.onmessage = (event: MessageEvent<ChangedThing>) => tellHere(event.data);
  return channel;
}

function tellHere(thing: ChangedThing): void {
  for (const run of [...heard]) run(thing);
}

/** Calls `run` after every change in any window of this origin; the answer ends it. */
export function onChange(run: Heard): () => void {
  sisters();
  heard.add(run);
  return () => heard.delete(run);
}

export function tell(thing: ChangedThing): void {
  sisters()?.postMessage(thing);
  tellHere(thing);
}
