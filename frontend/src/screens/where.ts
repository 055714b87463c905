/** Where the tablet is: one hash route a screen, so that a reload or a crash comes back to the same place. */
export type Where =
  | { readonly screen: "home" }
  /** `scope` and `step` say for which step a machine's or a place's code is read. */
  | { readonly screen: "camera-scan"; readonly scope?: string; readonly step?: string }
  | { readonly screen: "type" }
  | { readonly screen: "register"; readonly text: string }
  | { readonly screen: "cycle"; readonly scope: string }
  /** `code` is what was scanned for it last: a machine, a place. */
  | { readonly screen: "step"; readonly scope: string; readonly step: string; readonly code?: string }
  /** `taker`: whose badge was read for it; `code`: a number off a courier's label; `offer`: what the giver's screen showed. */
  | { readonly screen: "hand-over"; readonly scope: string; readonly taker?: string; readonly code?: string; readonly offer?: string }
  /** `step`: what is asked, said, packed or sent for it, its loan, what stands in for it; none = the repair itself. `code`: as above. */
  | { readonly screen: "repair"; readonly scope: string; readonly step?: "ask" | "clean" | "pack" | "ship" | "note" | "back" | "loan" | "tie"; readonly code?: string }
  | { readonly screen: "serial"; readonly scope: string; readonly begun?: string }
  | { readonly screen: "route"; readonly begun: string; readonly part?: string }
  | { readonly screen: "photo"; readonly begun: string; readonly part: string; readonly back: "route" | "finding" | "leak" | "channel" | "functions" }
  | { readonly screen: "finding"; readonly begun: string; readonly part: string; readonly back?: "channel" }
  | { readonly screen: "then-now"; readonly begun: string; readonly part: string }
  | { readonly screen: "functions"; readonly begun: string }
  | { readonly screen: "cleaning"; readonly begun: string }
  | { readonly screen: "channel"; readonly begun: string; readonly part: string }
  | { readonly screen: "tools"; readonly tool?: string }
  | { readonly screen: "leak"; readonly begun: string }
  | { readonly screen: "recorded"; readonly begun: string; readonly entry?: string }
  | { readonly screen: "conclude"; readonly begun: string }
  /** `phone`: the hold that a lead decides by phone. */
  | { readonly screen: "hold"; readonly scope: string; readonly begun?: string; readonly phone?: string }
  | { readonly screen: "asked"; readonly asked?: string }
  | { readonly screen: "kept" }
  | { readonly screen: "reader" }
  | { readonly screen: "help"; readonly about?: string }
  | { readonly screen: "hands-free" }
  | { readonly screen: "person" };

export const HOME: Where = { screen: "home" };

/** The hash of a place: the screen's name, then its values in the order they are written here. */
export function hashOf(where: Where): string {
  const { screen, ...rest } = where;
  const query = new URLSearchParams(Object.entries(rest).filter(([, value]) => value !== undefined) as [string, string][]);
  const text = query.toString();
  return `#/${screen}${text === "" ? "" : `?${text}`}`;
}

const NEEDS: Readonly<Record<Where["screen"], readonly string[]>> = {
  home: [], "camera-scan": [], type: [], register: ["text"], cycle: ["scope"], step: ["scope", "step"], "hand-over": ["scope"], repair: ["scope"], serial: ["scope"], route: ["begun"],
  photo: ["begun", "part", "back"], finding: ["begun", "part"], leak: ["begun"], conclude: ["begun"],
  "then-now": ["begun", "part"], functions: ["begun"], cleaning: ["begun"], channel: ["begun", "part"], tools: [],
  recorded: ["begun"], hold: ["scope"], asked: [], kept: [], "hands-free": [], person: [], reader: [], help: [],
};

/** Every screen that has an address. */
export const SCREENS = Object.keys(NEEDS);

const STEPS: readonly string[] = ["received", "cleaning", "processed", "hung", "taken"];

/** The place a hash names; anything not understood is home. */
export function whereOf(hash: string): Where {
  const [path, query = ""] = hash.replace(/^#\/?/, "").split("?", 2);
  if (path === undefined || !Object.hasOwn(NEEDS, path)) return HOME;
  const needs = NEEDS[path as Where["screen"]];
  const values = Object.fromEntries(new URLSearchParams(query));
  if (needs.some((name) => (values[name] ?? "") === "")) return HOME;
  if (path === "step" && !STEPS.includes(values["step"] ?? "")) return HOME;
  return { screen: path, ...values } as Where;
}
