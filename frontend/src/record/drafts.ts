/** What is not yet saved: words and photos so far, kept at each step, given back after a crash or a switch of person. */
import { tell } from "./changed";
import type { DraftPhotoRow, DraftRow } from "./schema";
import { settings } from "./setting";
import { read, write } from "./store";

export type DraftPhoto = DraftPhotoRow;

/** `value` is the screen's own (it must survive structured cloning); `id` names the place, not the person. */
export interface Draft<T = unknown> {
  readonly id: string;
  readonly value: T;
  readonly photos: readonly DraftPhoto[];
  /** When it was kept last, ms since 1970 of this tablet's clock. */
  readonly ms: number;
  readonly person?: string;
}

/** Keeps the draft as it stands; the answer comes when it is durable. */
export async function keepDraft<T>(
  id: string,
  value: T,
  photos: readonly DraftPhoto[] = [],
  person?: string,
): Promise<void> {
  const row: DraftRow = { id, value, photos, ms: settings().now().getTime(), ...(person === undefined ? {} : { person }) };
  await write(["drafts"], (tx) => tx.objectStore("drafts").put(row));
  tell("drafts");
}

/** The draft, or undefined. `T` is the screen's word for what it kept under this id. */
export async function readDraft<T = unknown>(id: string): Promise<Draft<T> | undefined> {
  return (await read(["drafts"], (tx) => tx.objectStore("drafts").get(id))) as Draft<T> | undefined;
}

/** All drafts, the newest first. */
export async function drafts(): Promise<readonly Draft[]> {
  const rows = await read(["drafts"], (tx) => tx.objectStore("drafts").getAll());
  return rows.sort((a, b) => b.ms - a.ms);
}

export async function forgetDraft(id: string): Promise<void> {
  await write(["drafts"], (tx) => tx.objectStore("drafts").delete(id));
  tell("drafts");
}
