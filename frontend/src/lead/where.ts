/** Where the desk is: one hash route a screen, so that a reload comes back to the same place. */
export type Where =
  | { readonly screen: "today" }
  | { readonly screen: "inspection"; readonly root: string }
  | { readonly screen: "aside" }
  | { readonly screen: "stations" }
  | { readonly screen: "people" };

const DESK = "#/desk";

export function hashOf(where: Where): string {
  if (where.screen === "today") return DESK;
  return where.screen === "inspection" ? `${DESK}/inspection?root=${where.root}` : `${DESK}/${where.screen}`;
}

/** The place a hash names; anything not understood is the list of today. */
export function whereOf(hash: string): Where {
  const [path = "", query = ""] = hash.slice(DESK.length + 1).split("?", 2);
  const root = new URLSearchParams(query).get("root") ?? "";
  if (path === "inspection" && /^[0-9a-f]{64}$/.test(root)) return { screen: "inspection", root };
  return path === "aside" || path === "stations" || path === "people" ? { screen: path } : { screen: "today" };
}
