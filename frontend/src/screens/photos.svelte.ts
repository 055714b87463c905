/** The photos of a part: the one of last time, as the cards brought it, and the ones of this inspection. */
import { lastPhotoOf, type LastPhoto, thenPhotosOf } from "../cards";
import type { Now, Then } from "../compare/comparing.svelte";
import { photoBytes, type InspectionState } from "../record";
import { until } from "../parts/settled";
import type { PhotoFacts } from "../parts/types";
import { say } from "../parts/words";
import { opening, partName, shortDate } from "../parts/names";
import { hidden } from "./hidden.svelte";

/** A photo that may show a person: its name stays, its picture does not. */
const covered = (photo: PhotoFacts): PhotoFacts => ({ ...photo, src: undefined, restricted: true });

export class PhotosOfPart {
  #then = $state.raw<PhotoFacts>({ alt: say("photo.before") });
  #thens = $state.raw<readonly Then[]>([]);
  #now = $state.raw<PhotoFacts>({ alt: say("photo.now") });
  last = $state.raw<LastPhoto | undefined>(undefined);
  /** The photos of before that it may be held against: last time's, the acceptance's, the first. */
  get thens(): readonly Then[] {
    return this.#thens.map((one) => (hidden.has(one.sha256) ? { ...one, src: undefined, hidden: true } : one));
  }
  /** Names of this inspection's photos of the part, the newest last. */
  readonly own: readonly string[];
  readonly #urls: string[] = [];

  constructor(state: InspectionState, readonly part: string) {
    const entries = new Set(state.thread.photos[part] ?? []);
    this.own = state.thread.live.filter((live) => entries.has(live.hash)).flatMap((live) => live.photos.map((photo) => photo.sha256));
    void until(this.#load(state.scope));
  }

  /** What photos of a part this inspection has: what changes when they are to be read anew, and at nothing else. */
  static key(state: InspectionState | undefined, part: string): string | undefined {
    return state === undefined ? undefined : (state.thread.photos[part] ?? []).join(" ");
  }

  get then(): PhotoFacts {
    return hidden.has(this.last?.sha256) ? covered(this.#then) : this.#then;
  }

  get now(): PhotoFacts {
    return hidden.has(this.own[this.own.length - 1]) ? covered(this.#now) : this.#now;
  }

  end(): void {
    for (const url of this.#urls) URL.revokeObjectURL(url);
  }

  /** This inspection's newest photo of the part, for the comparison. */
  get newest(): Now | undefined {
    const sha256 = this.own[this.own.length - 1];
    return sha256 === undefined ? undefined : { sha256, alt: this.now.alt, when: say("then.this_one"), src: this.now.src, hidden: hidden.has(sha256) };
  }

  async #load(scope: string): Promise<void> {
    const [last, mine] = await Promise.all([lastPhotoOf(scope, this.part), this.own.length === 0 ? undefined : photoBytes(this.own[this.own.length - 1] ?? "")]);
    const name = opening(partName(this.part));
    const all = await thenPhotosOf(scope, this.part);
    this.#thens = all.filter(({ sha256 }) => !this.own.includes(sha256)).map(({ id, sha256, at, laid, bytes }): Then => {
      const when = shortDate(at, new Date());
      return { id, sha256, label: say(`then.${id}`), when, alt: `${name}, ${when}`, laid, src: bytes === undefined ? undefined : this.#url(bytes) };
    });
    if (last !== undefined && !this.own.includes(last.sha256)) {
      this.last = last;
      const when = shortDate(last.at, new Date());
      this.#then = { alt: `${name}, ${when}`, lead: when, text: say(`mark.said.${last.mark}`), laid: last.laid, src: last.bytes === undefined ? undefined : this.#url(last.bytes) };
    }
    if (this.own.length > 0) {
      this.#now = {
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
