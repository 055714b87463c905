/** The place on screen, kept in the address so that a reload or a crash comes back to it. */
import { screenChanged } from "../parts/press";
import { hashOf, type Where, whereOf } from "./where";

class Place {
  now = $state.raw<Where>(whereOf(location.hash));

  constructor() {
    addEventListener("hashchange", () => {
      this.now = whereOf(location.hash);
      screenChanged();
    });
  }
}

export const place = new Place();

/** Goes to a place. `over` takes the present one out of the way back, as from one part of a route to the next. */
export function go(where: Where, how: "on" | "over" = "on"): void {
  const hash = hashOf(where);
  if (how === "over") {
    history.replaceState(null, "", hash);
    place.now = where;
    screenChanged();
  } else {
    location.hash = hash;
  }
}
