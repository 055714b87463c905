/**
 * Has the browser begin a new log before this page writes anything.
 *
 * Measured (Chromium 150): killed in the middle of a write, the browser leaves a log whose last record is cut
 * short. At its next start it reads that log whole and goes on writing behind the cut; at the start after that it
 * finds "checksum mismatch" there and deletes every database of the origin without a word. Deleting a database
 * (any of the origin, 3 ms) makes it move what the log holds to a table and begin a new log, so the cut end is gone
 * before anything more is said to be saved. Where a browser keeps its databases in another way this changes nothing.
 */
const NAME = "loupebook-log";
/** A browser that does not answer keeps no save waiting longer than this. */
const PATIENCE_MS = 2000;

/** One request to its end; whatever becomes of it, what comes after goes on. */
function ended(request: IDBOpenDBRequest): Promise<void> {
  return new Promise((resolve) => {
    request.onsuccess = () => {
      // The answer to a deletion is no database.
      (request.result as IDBDatabase | undefined)?.close();
      resolve();
    };
    request.onerror = () => resolve();
  });
}

/** The deletion is what counts; the empty database is for the next start, so that it has one to delete at once. */
async function deleteAndMake(): Promise<void> {
  await ended(indexedDB.deleteDatabase(NAME));
  await ended(indexedDB.open(NAME, 1));
}

let begun: Promise<void> | undefined;

/** Ends when the log is new, or after two seconds; asked again, it answers with the first asking. */
export function freshLog(): Promise<void> {
  begun ??= new Promise((resolve) => {
    const timer = setTimeout(resolve, PATIENCE_MS);
    void deleteAndMake().catch(() => undefined).then(() => {
      clearTimeout(timer);
      resolve();
    });
  });
  return begun;
}
