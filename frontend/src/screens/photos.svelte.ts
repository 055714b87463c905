/** The photos of a part: the one of last time, as the cards brought it, and the ones of this inspection. */
import { lastPhotoOf, type LastPhoto } from "../cards";
import { photoBytes, type InspectionState } from "../record";
import { until } from "../parts/settled";
import type { PhotoFacts } from "../parts/types";
import { say } from "../parts/words";
import { opening, partName, shortDate } from "../parts/names";

export class PhotosOfPart {
  then = $state.raw<PhotoFacts>({ alt: say("photo.before") });
  now = $state.raw<PhotoFacts>({ alt: say("photo.now") });
  last = $state.raw<LastPhoto | undefined>(undefined);
  /** Names of this inspection's photos of the part, the newest last. */
  readonly own: readonly string[];
  readonly #urls: string[] = [];

  constructor(state: InspectionState, readonly part: string) {
    const entries = new Set(state.thread.photos[part] ?? []);
    this.own = state.thread.live.filter((live) => entries.has(live.hash)).flatMap((live) => live.photos.map((photo) => photo.sha256));
    void until(this.#load(state.scope));
  }

  end(): void {
    for (const url of this.#urls) URL.revokeObjectURL(url);
  }

  async #load(scope: string): Promise<void> {
    const [last, mine] = await Promise.all([lastPhotoOf(scope, this.part), this.own.length === 0 ? undefined : photoBytes(this.own[this.own.length - 1] ?? "")]);
    const name = opening(partName(this.part));
    if (last !== undefined) {
      this.last = last;
      const when = shortDate(last.at, new Date());
      this.then = { alt: `${name}, ${when}`, lead: when, text: say(`mark.said.${last.mark}`), src: last.bytes === undefined ? undefined : this.#url(last.bytes) };
    }
    if (this.own.length > 0) {
      this.now = {
        alt: `${name}, ${say("photo.now")}`, lead: say("route.now"), text: say("route.photos_here", { count: this.own.length }),
        src: mine === undefined ? undefined : this.#url(mine),
      };
    }
  }

  #url(bytes: Blob): string {
    const url = URL.createObjectURL(bytes);
    this.#urls.push(url);
    return url;
  }
}
