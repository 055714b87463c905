/** The parts of a pinned catalogue that rules and screens read (shared/catalogue/catalogue.json). */

export interface CataloguePart {
  readonly id: string;
  readonly code: string;
  readonly shape: string;
  readonly zone: string;
  /** Never marked as part of a zone. */
  readonly alone: boolean;
  readonly look_for: readonly string[];
  /** What is said before this part is looked at: a key of the words, `caution.part.*`. */
  readonly caution?: string;
}

export interface CatalogueChannel {
  readonly id: string;
  readonly code: string;
  readonly reach: "borescope" | "flow" | "none";
  /** Channels whose look passes through this one. */
  readonly passed_in?: readonly string[];
  readonly look_for: readonly string[];
}

/** What a point contains for a kind: the route in order, whether zones may be used, readings due. */
export interface CataloguePoint {
  readonly parts: readonly string[];
  readonly channels: readonly string[];
  readonly zones: boolean;
  readonly needs: readonly string[];
  /** Functions to be tried here, ids of the catalogue's checks: each is answered by a reading. */
  readonly checks?: readonly string[];
  /** Before use: what is answered one by one, in this order. */
  readonly items?: readonly CatalogueItem[];
  /** Findings of the record itself that belong here: hung too long, a step that is missing. */
  readonly record?: readonly string[];
}

/** One thing before use: parts to be looked at, or one function to be tried. */
export interface CatalogueItem {
  readonly id: string;
  readonly parts?: readonly string[];
  readonly check?: string;
}

export interface CatalogueKind {
  /** "high": the kinds that are looked at whole in every cycle and have no zones. */
  readonly risk?: string;
  readonly risk_source?: string;
  readonly zones: readonly string[];
  readonly parts: readonly CataloguePart[];
  readonly channels: readonly CatalogueChannel[];
  readonly leak_steps: readonly string[];
  readonly points: Readonly<Record<string, CataloguePoint>>;
}

export interface CatalogueFinding {
  readonly class: string;
  readonly urgency: string;
  readonly grades: boolean;
  readonly source?: string;
}

export interface Catalogue {
  readonly v: 1;
  readonly findings: Readonly<Record<string, CatalogueFinding>>;
  readonly reasons: Readonly<Record<string, readonly string[]>>;
  /** Functions that can be tried: ids that a reading may name. */
  readonly checks?: readonly string[];
  readonly kinds: Readonly<Record<string, CatalogueKind>>;
}
