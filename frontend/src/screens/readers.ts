/** Keyboard readers and foot switches, joined with this tablet's own pedals. */
import { listenToWedge, type WedgeOptions } from "../capture/wedge";
import { pedalKeys } from "./pedals";

/** Listens on every screen; the answer ends it. */
export function listenToReaders(onCode: (text: string) => void, options: Pick<WedgeOptions, "onCommand" | "onKey">): () => void {
  return listenToWedge(window, onCode, { ...options, footKeys: pedalKeys });
}
