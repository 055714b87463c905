/** Where the page runs. A plain iPadOS browser tab is wiped after seven days of use without a visit. */
import { PlainTab } from "./trouble";

export interface Surroundings {
  readonly userAgent: string;
  readonly platform: string;
  readonly touchPoints: number;
  readonly standalone: boolean;
}

/** iPadOS calls itself a Mac; only the touch points give it away. */
export function isPlainTab(at: Surroundings): boolean {
  const apple = /iPad|iPhone|iPod/.test(at.userAgent) || (at.platform === "MacIntel" && at.touchPoints > 1);
  return apple && !at.standalone;
}

export function surroundings(): Surroundings {
  const nav = globalThis.navigator as (Navigator & { readonly standalone?: boolean }) | undefined;
  const media = typeof matchMedia === "function" && matchMedia("(display-mode: standalone), (display-mode: fullscreen)").matches;
  return {
    userAgent: nav?.userAgent ?? "",
    platform: nav?.platform ?? "",
    touchPoints: nav?.maxTouchPoints ?? 0,
    standalone: media || nav?.standalone === true,
  };
}

/** Raises PlainTab where nothing may be recorded. */
export function mayRecordHere(): void {
  if (isPlainTab(surroundings())) throw new PlainTab();
}
