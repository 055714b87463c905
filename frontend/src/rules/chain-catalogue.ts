/** The parts of a pinned catalogue that rules and screens read (shared/catalogue/catalogue.json). */

export interface CataloguePart {
  readonly id: string;
  readonly code: string;
  readonly shape: string;
  readonly zone: string;
  /** Never marked as part of a zone. */
  readonly alone: boolean;
  readonly look_for: readonly string[];
}

export interface CatalogueChannel {
  readonly id: string;
  readonly code: string;
  readonly reach: "borescope" | "flow" | "none";
  readonly look_for: readonly string[];
}

/** What a point contains for a kind: the route in order, whether zones may be used, readings due. */
export interface CataloguePoint {
  readonly parts: readonly string[];
  readonly channels: readonly string[];
  readonly zones: boolean;
  readonly needs: readonly string[];
}

export interface CatalogueKind {
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
}

export interface Catalogue {
  readonly v: 1;
  readonly findings: Readonly<Record<string, CatalogueFinding>>;
  readonly reasons: Readonly<Record<string, readonly string[]>>;
  readonly kinds: Readonly<Record<string, CatalogueKind>>;
}
