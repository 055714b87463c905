/** Names of people as the tablet's cards have them; an id nobody knows stays an id. */
import { people } from "../cards";
import { until } from "../parts/settled";

export class Names {
  #known = $state.raw<ReadonlyMap<string, string>>(new Map());

  constructor() {
    void until(people()).then((cards) => (this.#known = new Map(cards.map(({ person, name }) => [person, name]))));
  }

  of(id: string): string {
    return this.#known.get(id) ?? id;
  }
}
