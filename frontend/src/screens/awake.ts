/**
 * Keeps the screen awake while a scope is in hand: a hand in the water cannot wake it. The browser lets go of it by
 * itself when the page is not in view; it is asked again when the page comes back (W3C Screen Wake Lock, 2024).
 */

/** Whether this browser can. Where it cannot, the tablet's own setting has to do it. */
export const canStayAwake = (): boolean => "wakeLock" in navigator;

/** Stays awake until the answer is called. */
export function stayAwake(): () => void {
  let held: WakeLockSentinel | undefined;
  let over = false;
  const ask = async (): Promise<void> => {
    if (over || held?.released === false || document.visibilityState !== "visible" || !canStayAwake()) return;
    // Refused when the battery is low: the screen then sleeps as it always did.
    const got = await navigator.wakeLock.request("screen").catch(() => undefined);
    if (over) void got?.release();
    else held = got;
  };
  const back = (): void => void ask();
  document.addEventListener("visibilitychange", back);
  void ask();
  return () => {
    over = true;
    document.removeEventListener("visibilitychange", back);
    void held?.release();
  };
}
