/** Which camera is used, chosen by the name it gives itself and remembered for each tool on this tablet. */

/** One camera that is there now. */
export interface Listed {
  readonly id: string;
  readonly label: string;
}

/** Any tool's camera that was not chosen apart: the tablet's own place for it. */
export const NO_TOOL = "";
const KEPT = "loupebook.cameras";

type Store = Pick<Storage, "getItem" | "setItem">;

/** The cameras that are there; names only once one was opened (W3C Media Capture and Streams, 9.1). */
export async function camerasHere(
  media: Pick<MediaDevices, "enumerateDevices"> | undefined = navigator.mediaDevices,
): Promise<readonly Listed[]> {
  const found = (await media?.enumerateDevices().catch(() => [])) ?? [];
  return found.filter((each) => each.kind === "videoinput").map(({ deviceId, label }) => ({ id: deviceId, label }));
}

/** The camera chosen for a tool, else the one chosen for none; undefined where nobody chose. */
export function chosenCamera(tool: string, store: Store = localStorage): Listed | undefined {
  const kept = read(store);
  return kept[tool] ?? kept[NO_TOOL];
}

export function chooseCamera(tool: string, { id, label }: Listed, store: Store = localStorage): void {
  store.setItem(KEPT, JSON.stringify({ ...read(store), [tool]: { id, label } }));
}

/**
 * The id to ask for now. A browser may give a device a new id, and two of one make have one name: the id counts first,
 * then a name that only one has.
 */
export function idOf(chosen: Listed | undefined, here: readonly Listed[]): string | undefined {
  if (chosen === undefined) return undefined;
  if (here.some(({ id }) => id === chosen.id)) return chosen.id;
  const named = here.filter(({ label }) => label !== "" && label === chosen.label);
  return named.length === 1 ? named[0]!.id : undefined;
}

function read(store: Store): Readonly<Record<string, Listed>> {
  try {
    const kept: unknown = JSON.parse(store.getItem(KEPT) ?? "{}");
    const rows = kept !== null && typeof kept === "object" ? Object.entries(kept as Record<string, Partial<Listed>>) : [];
    const whole = rows.filter((row): row is [string, Listed] => typeof row[1]?.id === "string" && typeof row[1].label === "string");
    return Object.fromEntries(whole);
  } catch {
    return {};
  }
}
