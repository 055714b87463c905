/** What follows when something was said of a scope outside an inspection: it can be taken back, and it is told. */
import { say } from "../parts/words";
import { here } from "./here.svelte";
import { undo } from "./undo.svelte";

/** `did` in words, as "Packed"; `hash` of the entry that says so. */
export function scopeDid(scope: string, hash: string, did: string): void {
  const what = here.scopeName(scope);
  undo.offer({ hash, what, did, part: undefined });
  here.stepped = { hash, scope };
  here.tell(say("saved.said", { what, did }));
}
