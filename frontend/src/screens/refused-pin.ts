/** Why a PIN did not open the tablet, in three parts. */
import "../parts/words-later";
import { NoPinCheck, PinStopped, WrongPin } from "../cards";
import { say } from "../parts/words";
import { ServerTrouble } from "../record";

export interface RefusedPin {
  readonly so: string;
  readonly safe: string;
  readonly next: string;
  readonly code: string;
}

export function wordsOf(cause: unknown, name: string): RefusedPin {
  const safe = say("trouble.wrong_pin.safe");
  if (cause instanceof WrongPin) {
    const next = cause.waitS > 0 ? say("pin.wait", { n: cause.waitS }) : say("trouble.wrong_pin.next");
    return { so: say("trouble.wrong_pin.so", { name }), safe, next, code: "wrong_pin" };
  }
  if (cause instanceof PinStopped) return { so: say("pin.stopped", { name }), safe, next: say("pin.stopped_next"), code: "pin_stopped" };
  if (cause instanceof NoPinCheck) return { so: say("pin.no_check", { name }), safe, next: say("pin.no_check_next"), code: "no_check" };
  if (cause instanceof ServerTrouble) return { so: cause.words.so, safe, next: cause.words.next, code: cause.words.code };
  return { so: say("pin.no_answer"), safe, next: say("pin.no_check_next"), code: cause instanceof Error ? cause.name : "" };
}
