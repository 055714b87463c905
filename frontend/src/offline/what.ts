/** What is kept: the files of one build, in a store named after it. */

/** One file of the build: its address, and its SHA-256 as a fetch checks it ("sha256-" and base64). */
export interface Kept {
  readonly url: string;
  readonly integrity: string;
}

/** Put in by the build: its id, and every file a page without a network may need. */
declare const __BUILD__: string;
declare const __KEPT__: readonly Kept[];

export const BUILD: string = __BUILD__;
export const KEPT: readonly Kept[] = __KEPT__;

const PREFIX = "loupebook-";

/** The store of one build. */
export function storeOf(build: string): string {
  return PREFIX + build;
}

/** Whether an address is a file whose name changes with its bytes, so that any build's copy is right. */
export function neverChanges(path: string): boolean {
  return path.startsWith("/assets/");
}

/**
 * The address to answer from the store, or nothing when the request is none of ours.
 * Routes of the server are never in the list, so they always go to the server.
 */
export function answeredBy(method: string, url: URL, origin: string, kept: readonly Kept[]): string | undefined {
  if (method !== "GET" || url.origin !== origin) return undefined;
  if (kept.some((file) => file.url === url.pathname) || neverChanges(url.pathname)) return url.pathname;
  return undefined;
}

/**
 * The stores to remove once `build` answers. The newest one before it stays: a window still
 * open on it may ask for a part it has not loaded yet. `names` are in the order they were made.
 */
export function storesToRemove(names: readonly string[], build: string): readonly string[] {
  return names.filter((name) => name.startsWith(PREFIX) && name !== storeOf(build)).slice(0, -1);
}
