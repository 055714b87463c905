import type { Action } from "svelte/action";
import { TouchJudge } from "./press-rules";

/** What is done on a press; nothing where the control waits. */
export type OnPress = (() => void) | undefined;

/** How long after a lifted touch the browser may still send the click it makes of it (300 ms seen; twice that kept). */
const COMPAT_CLICK_MS = 700;

const judge = new TouchJudge();
let lastTouch = Number.NEGATIVE_INFINITY;

/** Tells every button that the screen changed: touches count again 250 ms later. */
export function screenChanged(now: number = performance.now()): void {
  judge.screenChanged(now);
}

/** Contacts on the glass now, by pointer id: told on the way down, since a lift has neither pressure nor a sure size. */
const onGlass = new Set<number>();

/** A finger or pen on the glass. Assistive technology sends a mouse, or a contact without size: no water rule for it. */
function isContact(event: PointerEvent): boolean {
  return event.pointerType !== "mouse" && !(event.width === 0 && event.height === 0);
}

function isInside(node: HTMLElement, event: PointerEvent): boolean {
  const box = node.getBoundingClientRect();
  return event.clientX >= box.left && event.clientX <= box.right && event.clientY >= box.top && event.clientY <= box.bottom;
}

/**
 * Watches the whole page, so that drops and second fingers beside a button are known too.
 * Returns a function that stops the watch.
 */
function watch(page: EventTarget): () => void {
  const down = (event: Event): void => {
    const pointer = event as PointerEvent;
    if (!isContact(pointer)) return;
    onGlass.add(pointer.pointerId);
    judge.down(pointer.pointerId, pointer.timeStamp);
  };
  // In the bubble phase on the page: a button has judged its own lift before the contact is forgotten.
  const gone = (event: Event): void => {
    const pointer = event as PointerEvent;
    if (!onGlass.delete(pointer.pointerId)) return;
    judge.cancel(pointer.pointerId);
    lastTouch = pointer.timeStamp;
  };
  page.addEventListener("pointerdown", down, { capture: true });
  page.addEventListener("pointerup", gone);
  page.addEventListener("pointercancel", gone);
  return () => {
    page.removeEventListener("pointerdown", down, { capture: true });
    page.removeEventListener("pointerup", gone);
    page.removeEventListener("pointercancel", gone);
  };
}

const watched = new WeakMap<EventTarget, { users: number; stop: () => void }>();

function beginWatch(page: EventTarget): void {
  const seen = watched.get(page);
  if (seen === undefined) watched.set(page, { users: 1, stop: watch(page) });
  else seen.users += 1;
}

function endWatch(page: EventTarget): void {
  const seen = watched.get(page);
  if (seen === undefined) return;
  seen.users -= 1;
  if (seen.users > 0) return;
  seen.stop();
  watched.delete(page);
}

/**
 * A press on a button. A touch or pen counts on lift by the water rules of `press-rules`; a mouse, the keyboard
 * and assistive technology count as the browser's click, without them. The click that a browser makes of a
 * touch is swallowed, wherever it lands: the screen may have changed under the finger.
 */
export const press: Action<HTMLElement, OnPress> = (node, onpress) => {
  let act: OnPress = onpress;
  let touched: number | null = null;
  let moused = false;

  const down = (event: PointerEvent): void => {
    moused = event.pointerType === "mouse";
    if (isContact(event)) touched = event.pointerId;
  };
  const up = (event: PointerEvent): void => {
    if (event.pointerId !== touched) return;
    touched = null;
    onGlass.delete(event.pointerId);
    lastTouch = event.timeStamp; // here too: acting may take this button, and with it the watch, off the page
    if (judge.up(event.pointerId, event.timeStamp, isInside(node, event)) === "press") act?.();
  };
  const click = (event: MouseEvent): void => {
    const fromTouch = event.detail > 0 && !moused && event.timeStamp - lastTouch < COMPAT_CLICK_MS;
    moused = false;
    if (fromTouch) {
      event.preventDefault();
      event.stopPropagation();
      return;
    }
    act?.();
  };
  // A long touch opens no menu over the work.
  const menu = (event: Event): void => {
    if (touched !== null) event.preventDefault();
  };

  const page = node.ownerDocument.defaultView ?? node.ownerDocument;
  beginWatch(page);
  node.addEventListener("pointerdown", down);
  node.addEventListener("pointerup", up);
  node.addEventListener("click", click);
  node.addEventListener("contextmenu", menu);
  return {
    update(next: OnPress) {
      act = next;
    },
    destroy() {
      node.removeEventListener("pointerdown", down);
      node.removeEventListener("pointerup", up);
      node.removeEventListener("click", click);
      node.removeEventListener("contextmenu", menu);
      endWatch(page);
    },
  };
};
