/**
 * Borescopes as known here: what the server's cards say, and what this tablet itself used, processed or registered
 * and the server may not have heard of. A use that was taken back in its inspection is no use.
 */
import { tell } from "../record/changed";
import type { ToolRegistered } from "../record/kinds";
import { meta } from "../record/meta";
import { settings } from "../record/setting";
import { inspectionState } from "../record/state";
import { read, write } from "../record/store";
import { bare, type ToolCard } from "./rows";

export interface Tool extends ToolCard {
  /** It was in a channel and nobody recorded its processing since. */
  readonly owes: boolean;
}

interface Use {
  readonly begun: string;
  readonly entry: string;
  readonly ms: number;
}
interface Own {
  readonly record?: ToolCard;
  readonly uses: readonly Use[];
  readonly processed_ms: number | null;
}

const HERE = "tools_here";
const NOTHING: Own = { uses: [], processed_ms: null };
const MOST_USES = 12;

/** Every borescope known here, those of `place` first, by name. */
export async function toolsKnown(place?: string): Promise<readonly Tool[]> {
  const [cards, own] = await read(["cards"], (tx) => Promise.all([
    tx.objectStore("cards").getAll(IDBKeyRange.bound(["tools"], ["tools", []])),
    tx.objectStore("cards").getAll(IDBKeyRange.bound([HERE], [HERE, []])),
  ]));
  const rows = new Map(cards.map((row) => [row.id, row.row as ToolCard]));
  const mine = new Map(own.map((row) => [row.id, row.row as Own]));
  for (const [id, { record }] of mine) if (record !== undefined && !rows.has(id)) rows.set(id, record);
  const tools = await Promise.all([...rows.values()].map((row) => joined(row, mine.get(row.tool) ?? NOTHING)));
  const away = (tool: Tool): number => (tool.place === place ? 0 : 1);
  return tools.sort((a, b) => away(a) - away(b) || a.tool.localeCompare(b.tool));
}

async function joined(row: ToolCard, own: Own): Promise<Tool> {
  const standing = await Promise.all(own.uses.map(stands));
  const used = latest(row.used_ms, ...own.uses.filter((_, at) => standing[at]).map((use) => use.ms));
  const processed = latest(row.processed_ms, own.processed_ms);
  return { ...row, used_ms: used, processed_ms: processed, owes: used !== null && (processed === null || used > processed) };
}

function latest(...moments: readonly (number | null)[]): number | null {
  const known = moments.filter((ms) => ms !== null);
  return known.length === 0 ? null : Math.max(...known);
}

async function stands(use: Use): Promise<boolean> {
  const state = await inspectionState(use.begun);
  return state === undefined || state.thread.live.some((live) => live.hash === use.entry);
}

/** The borescope that a code, or words a person typed, names. */
export async function toolOf(text: string): Promise<Tool | undefined> {
  const wanted = bare(text);
  return (await toolsKnown()).find((tool) => [tool.tool, ...tool.codes].some((each) => bare(each) === wanted));
}

/** This moment by the server's clock, as far as it is known: the cards' moments are of that clock too. */
async function now(): Promise<number> {
  return settings().now().getTime() - ((await meta("clock"))?.ahead_ms ?? 0);
}

async function change(tool: string, make: (own: Own) => Own): Promise<void> {
  await write(["cards"], async (tx) => {
    const cards = tx.objectStore("cards");
    const row = (await cards.get([HERE, tool]))?.row as Own | undefined;
    await cards.put({ table: HERE, id: tool, words: [], row: make(row ?? NOTHING) });
  });
  tell("cards");
}

export async function keepToolUse(tool: string, begun: string, entry: string): Promise<void> {
  const ms = await now();
  await change(tool, (own) => ({ ...own, uses: [...own.uses, { begun, entry, ms }].slice(-MOST_USES) }));
}

export async function keepToolProcessed(tool: string): Promise<void> {
  const ms = await now();
  await change(tool, (own) => ({ ...own, uses: [], processed_ms: ms }));
}

export async function keepTool(tool: string, body: ToolRegistered): Promise<void> {
  const record: ToolCard = {
    tool, what: body.what, place: body.place, width_um: body.width_um ?? null, length_mm: body.length_mm ?? null,
    codes: body.codes ?? [], used_ms: null, processed_ms: null,
  };
  await change(tool, (own) => ({ ...own, record }));
}
