/** Why a sign-in did not go through. Nothing unsent is touched by any of them. */

/** The PIN does not fit. `waitS`: seconds before the next try. */
export class WrongPin extends Error {
  override readonly name = "WrongPin";
  constructor(readonly waitS: number, readonly where: "online" | "offline") {
    super("the PIN does not fit this name");
  }
}

/** Ten wrong tries, or the server takes no more for this name: a lead helps; going on by name stays open. */
export class PinStopped extends Error {
  override readonly name = "PinStopped";
  constructor() {
    super("no more tries for this name on this tablet");
  }
}

/** No network, and this tablet has no check of this person's PIN (or it is older than 30 days). Go on by name. */
export class NoPinCheck extends Error {
  override readonly name = "NoPinCheck";
  constructor() {
    super("this tablet cannot check this PIN without the network");
  }
}
