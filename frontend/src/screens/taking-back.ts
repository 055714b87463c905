/** What was saved last on the home screen, taken back by a new entry: a decision, or a step of the cycle. */
import { until } from "../parts/settled";
import { append } from "../record";
import { here } from "./here.svelte";
import { go } from "./place.svelte";
import { undo } from "./undo.svelte";

export async function takeBack(): Promise<void> {
  const { last } = undo;
  const { concluded, stepped } = here;
  if (last === undefined) return;
  undo.clear();
  const step = last.hash === stepped?.hash ? stepped : undefined;
  const about = step !== undefined ? { scope: step.scope } : concluded === undefined ? undefined : { scope: concluded.scope, inspection: concluded.begun };
  if (about === undefined) return;
  await until(append({ kind: "entry.withdrawn", by: here.by(), about, body: { entry: last.hash, reason: "undo" } }));
  if (step !== undefined) {
    here.stepped = undefined;
    return;
  }
  here.concluded = undefined;
  if (concluded !== undefined) go({ screen: "conclude", begun: concluded.begun });
}
