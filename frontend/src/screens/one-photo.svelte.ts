/** The one photo that a form waits with: kept in the form's draft, shown small beside it, sent with its entry. */
import type { DraftPhoto } from "../record";

export class OnePhoto {
  photos = $state.raw<readonly DraftPhoto[]>([]);
  /** Of the picture, for as long as it is shown. */
  url = $state<string>();
  readonly is: boolean = $derived(this.photos.length > 0);

  show(next: readonly DraftPhoto[]): void {
    this.end();
    this.photos = next;
    const [photo] = next;
    this.url = photo === undefined ? undefined : URL.createObjectURL(new Blob([photo.bytes], { type: photo.type }));
  }

  /** Lets go of the picture; what an effect returns. */
  end(): void {
    if (this.url !== undefined) URL.revokeObjectURL(this.url);
    this.url = undefined;
  }

  /** As an entry names it. */
  get forEntry(): readonly DraftPhoto[] {
    return this.photos.map(({ sha256, bytes, type, width, height, shows, taken }) => ({ sha256, bytes, type, width, height, shows, ...(taken === undefined ? {} : { taken }) }));
  }
}
