/** How files are kept and served. */

import { type Kept, neverChanges, storeOf } from "./what";

/** Puts every file of a build into its store; fails as a whole if one is missing or has other bytes. */
export async function keep(build: string, files: readonly Kept[]): Promise<void> {
  const store = await caches.open(storeOf(build));
  await Promise.all(files.map((file) => keepOne(store, file)));
}

async function keepOne(store: Cache, file: Kept): Promise<void> {
  const here = neverChanges(file.url) ? await caches.match(file.url) : undefined;
  await store.put(file.url, here ?? (await fetchChecked(file)));
}

/**
 * The file from the server, past every cache between. The integrity makes a captive portal's
 * page with status 200 fail like a missing file.
 */
async function fetchChecked(file: Kept): Promise<Response> {
  const reply = await fetch(file.url, { integrity: file.integrity, cache: "reload", credentials: "omit" });
  if (!reply.ok) throw new Error(`${file.url} answered ${reply.status}`);
  return reply;
}

/** The kept file, else the server's. Files that never change are right from any build's store. */
export async function serve(build: string, path: string, request: Request): Promise<Response> {
  const store = await caches.open(storeOf(build));
  const own = await store.match(path);
  const any = own ?? (neverChanges(path) ? await caches.match(path) : undefined);
  return any ?? fetch(request);
}

/** Removes stores by name. */
export async function remove(names: readonly string[]): Promise<void> {
  await Promise.all(names.map((name) => caches.delete(name)));
}
