/** A scope registered on this tablet is known here at once; the server's card takes its place when it comes. */
import { tell } from "../record/changed";
import type { ScopeRegistered } from "../record/kinds";
import { write } from "../record/store";
import { type ScopeCard, wordsOf } from "./rows";

export async function keepLocalScope(key: string, body: ScopeRegistered): Promise<void> {
  const row: ScopeCard = {
    scope: key, scope_kind: body.scope_kind, serial: body.serial, di: body.di ?? null, maker: body.maker ?? null,
    model: body.model ?? null, tag: body.tag ?? null, codes: body.codes ?? [], none_here: [], on_record: false,
  };
  const words = wordsOf("scopes", row as unknown as Readonly<Record<string, unknown>>);
  await write(["cards"], async (tx) => {
    const cards = tx.objectStore("cards");
    if ((await cards.get(["scopes", key])) === undefined) await cards.put({ table: "scopes", id: key, words, row });
  });
  tell("cards");
}
