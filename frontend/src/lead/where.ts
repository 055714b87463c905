/** Where the desk is: one hash route a screen, so that a reload comes back to the same place. */
export type Where =
  | { readonly screen: "today" }
  | { readonly screen: "inspection"; readonly root: string }
  | { readonly screen: "hold"; readonly hold: string }
  | { readonly screen: "aside" }
  | { readonly screen: "stations" }
  | { readonly screen: "people" }
  | { readonly screen: "policy" };

const DESK = "#/desk";

export function hashOf(where: Where): string {
  if (where.screen === "today") return DESK;
  if (where.screen === "inspection") return `${DESK}/inspection?root=${where.root}`;
  return where.screen === "hold" ? `${DESK}/hold?hold=${where.hold}` : `${DESK}/${where.screen}`;
}

/** The place a hash names; anything not understood is the list of today. */
export function whereOf(hash: string): Where {
  const [path = "", query = ""] = hash.slice(DESK.length + 1).split("?", 2);
  const hash64 = (name: string): string | undefined => /^[0-9a-f]{64}$/.exec(new URLSearchParams(query).get(name) ?? "")?.[0];
  const [root, hold] = [hash64("root"), hash64("hold")];
  if (path === "inspection" && root !== undefined) return { screen: "inspection", root };
  if (path === "hold" && hold !== undefined) return { screen: "hold", hold };
  return path === "aside" || path === "stations" || path === "people" || path === "policy" ? { screen: path } : { screen: "today" };
}
