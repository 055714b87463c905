/** The place on screen, kept in the address and on the tablet: a reload, a crash and a fresh start come back to it. */
import { screenChanged } from "../parts/press";
import { until } from "../parts/settled";
import { meta, putMeta } from "../record/meta";
import { hashOf, type Where, whereOf } from "./where";

class Place {
  now = $state.raw<Where>(whereOf(location.hash));
  /** The screen this one was come from: what help is about. */
  before: Where["screen"] = "home";

  constructor() {
    if (location.hash === "") void until(this.#back());
    addEventListener("hashchange", () => {
      this.before = this.now.screen;
      this.now = whereOf(location.hash);
      screenChanged();
      keep(location.hash);
    });
  }

  /** An app started by its icon has no place in its address: the browser may have been ended under the hands. */
  async #back(): Promise<void> {
    const kept = await meta("place").catch(() => undefined);
    if (kept === undefined || location.hash !== "") return;
    // Not by history: whoever listens for places must hear it, the page that opens the lead's desk too.
    location.replace(kept);
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
    keep(hash);
  } else {
    location.hash = hash;
  }
}

/** A place that is not kept costs one tap on the home screen: no reason to tell anybody. */
function keep(hash: string): void {
  void until(putMeta("place", hash)).catch(() => undefined);
}
