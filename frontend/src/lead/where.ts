/** Where the desk is: one hash route a screen, so that a reload comes back to the same place. */
export type Where =
  | { readonly screen: "today"; readonly shift?: string }
  | { readonly screen: "inspection"; readonly root: string; readonly photo?: string }
  | { readonly screen: "hold"; readonly hold: string }
  | { readonly screen: "closing"; readonly name: string }
  | { readonly screen: "aside" }
  | { readonly screen: "stations" }
  | { readonly screen: "people" }
  | { readonly screen: "policy" }
  | { readonly screen: "examples" }
  | { readonly screen: "codes" }
  | { readonly screen: "facility" }
  | { readonly screen: "help"; readonly about?: string }
  | { readonly screen: "where" }
  | { readonly screen: "labels" }
  | { readonly screen: "repairs"; readonly scope?: string }
  | ({ readonly screen: "find" } & FindFields)
  | { readonly screen: "history"; readonly key: string }
  | { readonly screen: "scopes" }
  | { readonly screen: "scope"; readonly key: string }
  | { readonly screen: "bring"; readonly what: "scopes" | "people" };

/** What is looked for; what is left out was not asked. */
export type FindFields = Readonly<Partial<Record<"words" | "person" | "finding" | "point" | "place" | "since" | "until", string>>>;
export const FIND_FIELDS = ["words", "person", "finding", "point", "place", "since", "until"] as const satisfies readonly (keyof FindFields)[];

const DESK = "#/desk";

export function hashOf(where: Where): string {
  if (where.screen === "today" && where.shift === undefined) return DESK;
  const { screen, ...rest } = where;
  const query = new URLSearchParams(rest as Readonly<Record<string, string>>).toString();
  return `${DESK}/${screen}${query === "" ? "" : `?${query}`}`;
}

const PLAIN = (["aside", "stations", "people", "policy", "examples", "codes", "facility", "scopes", "where", "labels"] as const).map((screen) => ({ screen }));

/** The place a hash names; anything not understood is the list of today. */
export function whereOf(hash: string): Where {
  const [path = "", query = ""] = hash.slice(DESK.length + 1).split("?", 2);
  const given = new URLSearchParams(query);
  const hash64 = (name: string): string | undefined => /^[0-9a-f]{64}$/.exec(given.get(name) ?? "")?.[0];
  const [root, hold, key, what, shift] = [hash64("root"), hash64("hold"), given.get("key") ?? given.get("scope") ?? "", given.get("what"), given.get("shift") ?? ""];
  const photo = hash64("photo");
  if (path === "inspection" && root !== undefined) return { screen: "inspection", root, ...(photo === undefined ? {} : { photo }) };
  if (path === "hold" && hold !== undefined) return { screen: "hold", hold };
  if (path === "today" && shift !== "" && shift.length <= 200) return { screen: "today", shift };
  if (path === "repairs") return key !== "" && key.length <= 300 ? { screen: "repairs", scope: key } : { screen: "repairs" };
  const name = given.get("name") ?? "";
  if (path === "closing" && name !== "" && name.length <= 200) return { screen: "closing", name };
  if (path === "history" && key !== "" && key.length <= 300) return { screen: "history", key };
  if (path === "help") return { screen: "help", ...(/^[a-z]{1,20}$/.test(given.get("about") ?? "") ? { about: given.get("about") ?? "" } : {}) };
  if (path === "find") return { screen: "find", ...Object.fromEntries(FIND_FIELDS.flatMap((field) => ((given.get(field) ?? "") === "" ? [] : [[field, (given.get(field) ?? "").slice(0, 200)]]))) };
  if (path === "scope" && key !== "" && key.length <= 300) return { screen: "scope", key };
  if (path === "bring" && (what === "scopes" || what === "people")) return { screen: "bring", what };
  return PLAIN.find(({ screen }) => screen === path) ?? { screen: "today" };
}
