/** The pictures of some photos as addresses this page may draw; each is given back when it is no longer looked at. */
import { onDestroy, tick, untrack } from "svelte";
import { until } from "../parts/settled";
import { picture } from "./picture";

/** A photo that the server has not looked at yet comes a moment later: it is asked for again. */
const AGAIN_MS = 2_000;

export class Pictures {
  urls = $state.raw<Readonly<Record<string, string>>>({});

  /** `named`: which photos, asked for anew whenever that changes. To be made while a component is set up. */
  constructor(named: () => readonly string[]) {
    const key = $derived(named().join(" "));
    $effect(() => {
      let over = false;
      const timers: ReturnType<typeof setTimeout>[] = [];
      const wanted = key.split(" ").filter((name) => name !== "");
      const fetchOne = async (sha256: string): Promise<void> => {
        const got = await until(picture(sha256, "full"));
        if (over) return;
        if ("blob" in got) this.urls = { ...this.urls, [sha256]: URL.createObjectURL(got.blob) };
        else if (got.again) timers.push(setTimeout(() => void fetchOne(sha256), AGAIN_MS));
      };
      untrack(() => {
        this.#keepOnly(new Set(wanted));
        for (const sha256 of wanted) if (this.urls[sha256] === undefined) void fetchOne(sha256);
      });
      return () => {
        over = true;
        for (const timer of timers) clearTimeout(timer);
      };
    });
    onDestroy(() => this.#keepOnly(new Set()));
  }

  /** Lets go of all other pictures, once they have left the screen. */
  #keepOnly(wanted: ReadonlySet<string>): void {
    const gone = Object.entries(this.urls).filter(([sha256]) => !wanted.has(sha256));
    this.urls = Object.fromEntries(Object.entries(this.urls).filter(([sha256]) => wanted.has(sha256)));
    void tick().then(() => { for (const [, url] of gone) URL.revokeObjectURL(url); });
  }
}
