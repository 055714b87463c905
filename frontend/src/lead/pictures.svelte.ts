/** The pictures of some photos as addresses this page may draw; each is given back when it is no longer looked at. */
import { untrack } from "svelte";
import { until } from "../parts/settled";
import { picture } from "./picture";

export class Pictures {
  urls = $state.raw<Readonly<Record<string, string>>>({});

  /** `named`: which photos, asked for anew whenever that changes. To be made while a component is set up. */
  constructor(named: () => readonly string[]) {
    const key = $derived(named().join(" "));
    $effect(() => {
      let over = false;
      untrack(() => (this.urls = {}));
      const made: string[] = [];
      for (const sha256 of key.split(" ").filter((name) => name !== "")) {
        void until(picture(sha256, "full")).then((got) => {
          if (over || !("blob" in got)) return;
          const url = URL.createObjectURL(got.blob);
          made.push(url);
          this.urls = { ...this.urls, [sha256]: url };
        });
      }
      return () => {
        over = true;
        for (const url of made) URL.revokeObjectURL(url);
      };
    });
  }
}
