/** Sends what is not yet on the server. One sender an origin; the server owns the progress. */

/** Starts sending in this page; the answer ends it. */
export function startSender(): () => void {
  return () => undefined;
}

/** Sends now, whatever the waiting time; answers after one round. */
export async function sendNow(): Promise<void> {}
