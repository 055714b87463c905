/** Which photos are hidden on this tablet now: every picture on a screen asks here, so an open screen follows at once. */
import { hiddenPhotos, onChange } from "../record";

class Hidden {
  all = $state.raw<ReadonlySet<string>>(new Set());

  constructor() {
    const look = (): void => void hiddenPhotos().then((found) => (this.all = found)).catch(() => undefined);
    onChange((thing) => {
      if (thing === "cards") look();
    });
    look();
  }

  has(photo: string | undefined): boolean {
    return photo !== undefined && this.all.has(photo);
  }
}

export const hidden = new Hidden();
