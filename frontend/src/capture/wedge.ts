/**
 * Listens for keyboard readers and foot switches on any screen. The deciding is done in
 * `wedge-reader.ts`; here is what needs the page: one listener in the capture phase, the field that has
 * the focus, and a hidden field for browsers that don't say which key it was.
 */
import type { Command } from "../rules/codes";
import type { FootKeys, KeyPress, WedgeStep } from "./wedge-reader";
import { FOOT_KEYS, SILENCE_MS, WedgeReader } from "./wedge-reader";

export { FOOT_KEYS, GAP_MS, SHORTEST, SILENCE_MS, WedgeReader } from "./wedge-reader";
export type { FootKeys, KeyPress, WedgeStep } from "./wedge-reader";

export interface WedgeOptions {
  /** A foot switch was pressed. A laminated card comes as a code and is told apart by `readCode`. */
  readonly onCommand?: (command: Command) => void;
  readonly footKeys?: FootKeys;
  /** Keep a hidden field focused from the start: for readers that only type into a focused field. */
  readonly holdFocus?: boolean;
  /** Told of every key before anything is decided about it, with the state of Caps Lock. */
  readonly onKey?: (key: KeyPress & { readonly caps: boolean }) => void;
}

/** How late the silence timer may fire before keys may still be queued behind a busy page. */
const LATE_MS = 40;

type TextField = HTMLInputElement | HTMLTextAreaElement;

interface Before {
  readonly field: TextField;
  readonly value: string;
  readonly start: number | null;
  readonly end: number | null;
}

/**
 * Calls `onCode` with what a keyboard reader sent, on any screen, until the returned function is called.
 * A burst that began inside a text field leaves the field as it was. People's typing is never taken.
 */
export function listenToWedge(target: Window, onCode: (text: string) => void, options: WedgeOptions = {}): () => void {
  const page = target.document;
  const reader = new WedgeReader(options.footKeys ?? FOOT_KEYS);
  const off = new AbortController();
  let before: Before | null = null;
  let timer = 0;
  let hidden: HTMLInputElement | null = null;

  function act(step: WedgeStep, event: Event | null): void {
    if (step.do === "begins") before = remember(page.activeElement);
    if (step.do === "takes_over") putBack(before);
    if (["swallow", "takes_over", "code", "command"].includes(step.do)) keepFromPage(event);
    // A blank inside a code would press the button that has the focus.
    if (step.do === "may_belong" && !isTextField(page.activeElement)) event?.preventDefault();
    if (step.do === "unreadable" && !isTextField(page.activeElement)) focusHidden();
    if (step.do === "command") options.onCommand?.(step.command);
    watchForSilence(false);
    if (step.do === "code") {
      putBack(before);
      before = null;
      onCode(step.text);
    }
  }

  function watchForSilence(again: boolean): void {
    target.clearTimeout(timer);
    if (reader.endsAt === null) return;
    timer = target.setTimeout(() => {
      const now = target.performance.now();
      // A busy page runs the timer before the keys that wait behind it: let those come first, once.
      if (!again && now > (reader.endsAt ?? now) + LATE_MS) watchForSilence(true);
      else act(reader.silence(Math.max(now, reader.endsAt ?? now)), null);
    }, SILENCE_MS);
  }

  function focusHidden(): void {
    hidden ??= hiddenField(page, (text, at, event) => act(reader.typed(text, at), event), off.signal);
    hidden.focus({ preventScroll: true });
  }

  function focusHiddenIfFree(): void {
    target.setTimeout(() => {
      const free = page.activeElement === null || page.activeElement === page.body;
      if ((hidden !== null || options.holdFocus === true) && free && !off.signal.aborted) focusHidden();
    });
  }

  function told(event: KeyboardEvent, up: boolean): KeyPress {
    const key = keyPress(event, up);
    options.onKey?.({ ...key, caps: event.getModifierState("CapsLock") });
    return key;
  }

  function down(event: KeyboardEvent): void {
    act(reader.press(told(event, false)), event);
    // A key that has been read must not come a second time as text of the hidden field.
    if (page.activeElement === hidden && event.key.length === 1 && !event.isComposing) event.preventDefault();
  }

  const listen = { capture: true, signal: off.signal };
  target.addEventListener("keydown", down, listen);
  target.addEventListener("keyup", (event) => act(reader.press(told(event, true)), event), listen);
  target.addEventListener("focusout", focusHiddenIfFree, listen);
  focusHiddenIfFree();
  return () => {
    off.abort();
    target.clearTimeout(timer);
    hidden?.remove();
  };
}

function keyPress(event: KeyboardEvent, up: boolean): KeyPress {
  return {
    key: event.keyCode === 229 && event.key.length !== 1 ? "Unidentified" : event.key,
    code: event.code,
    at: event.timeStamp,
    up,
    ctrl: event.ctrlKey,
    alt: event.altKey,
    meta: event.metaKey,
    repeat: event.repeat,
    composing: event.isComposing,
  };
}

function keepFromPage(event: Event | null): void {
  event?.preventDefault();
  event?.stopImmediatePropagation();
}

const NO_TEXT: readonly string[] = ["button", "checkbox", "color", "file", "hidden", "image", "radio", "range", "reset", "submit"];
const HIDDEN = "data-wedge";

function isTextField(element: Element | null): element is TextField {
  if (element instanceof HTMLTextAreaElement) return true;
  return element instanceof HTMLInputElement && !NO_TEXT.includes(element.type) && !element.hasAttribute(HIDDEN);
}

function remember(element: Element | null): Before | null {
  if (!isTextField(element)) return null;
  return { field: element, value: element.value, start: element.selectionStart, end: element.selectionEnd };
}

/** Undo what a burst typed, and tell the page as if the person had undone it. */
function putBack(before: Before | null): void {
  if (before === null || before.field.value === before.value) return;
  before.field.value = before.value;
  if (before.start !== null) before.field.setSelectionRange(before.start, before.end);
  before.field.dispatchEvent(new InputEvent("input", { bubbles: true, inputType: "historyUndo" }));
}

/** A field nobody sees and no keyboard opens for, in which such readers' text arrives. */
function hiddenField(
  page: Document,
  onText: (text: string, at: number, event: Event) => void,
  signal: AbortSignal,
): HTMLInputElement {
  const field = page.createElement("input");
  field.inputMode = "none";
  field.autocomplete = "off";
  field.tabIndex = -1;
  field.setAttribute(HIDDEN, "");
  field.setAttribute("aria-label", "Scanner");
  Object.assign(field.style, { position: "fixed", top: "0", left: "0", width: "1px", height: "1px", minHeight: "0", padding: "0", opacity: "0", border: "0" });
  field.addEventListener(
    "input",
    (event) => {
      const text = field.value;
      field.value = "";
      onText(text, event.timeStamp, event);
    },
    { signal },
  );
  page.body.append(field);
  return field;
}
