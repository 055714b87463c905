/** What help says, a few sentences a topic, and the screens each is about. */
import type { Key } from "../parts/words";

export interface Topic {
  readonly id: "home" | "cycle" | "hand_over" | "repair" | "serial" | "route" | "channel" | "function" | "finding" | "leak" | "conclude" | "kept" | "hands" | "marks" | "shift" | "cautions";
  /** Screens it is about. */
  readonly screens: readonly string[];
  readonly says: readonly Key[];
}
export const TOPICS: readonly Topic[] = [
  { id: "home", screens: ["home", "type", "camera-scan", "register"], says: ["help.home.1", "help.home.2", "help.home.3"] },
  { id: "cycle", screens: ["cycle", "step"], says: ["help.cycle.1", "help.cycle.2", "help.cycle.3"] },
  { id: "hand_over", screens: ["hand-over"], says: ["help.hand_over.1", "help.hand_over.2", "help.hand_over.4", "help.hand_over.3"] },
  { id: "repair", screens: ["repair"], says: ["help.repair.1", "help.repair.2", "help.repair.3", "help.repair.5", "help.repair.6", "help.repair.4"] },
  { id: "serial", screens: ["serial"], says: ["help.serial.1", "help.serial.2", "help.serial.3"] },
  { id: "route", screens: ["route", "photo", "recorded"], says: ["help.route.1", "help.route.2", "help.route.3", "help.route.4", "help.route.5"] },
  { id: "channel", screens: ["channel", "tools"], says: ["help.channel.1", "help.channel.2", "help.channel.3", "help.channel.4"] },
  { id: "function", screens: ["functions", "cleaning"], says: ["help.function.1", "help.function.2", "help.function.3"] },
  { id: "marks", screens: [], says: ["help.marks.1", "help.marks.2"] },
  { id: "finding", screens: ["finding", "then-now"], says: ["help.finding.1", "help.finding.2", "help.finding.3", "help.finding.4"] },
  { id: "leak", screens: ["leak"], says: ["help.leak.1", "help.leak.2", "help.leak.3", "help.leak.4"] },
  {
    id: "conclude", screens: ["conclude", "hold", "asked"],
    says: ["help.conclude.1", "help.conclude.2", "help.conclude.3", "help.conclude.4", "help.asked.1", "help.asked.2", "help.asked.3"],
  },
  { id: "kept", screens: ["kept"], says: ["help.kept.1", "help.kept.2", "help.kept.3", "help.kept.4"] },
  { id: "hands", screens: ["person", "reader", "hands-free"], says: ["help.hands.1", "help.hands.2", "help.hands.3", "help.hands.4"] },
  { id: "shift", screens: [], says: ["help.shift.1", "help.shift.2", "help.shift.3"] },
  {
    id: "cautions", screens: [],
    says: [
      "caution.instructions", "caution.nothing_found", "caution.no_patient", "caution.contaminated", "caution.fresh_gloves", "caution.light", "caution.wipe_tablet",
      "help.cautions.tablet", "caution.no_force", "help.cautions.water", "caution.leaks", "caution.not_diagnosis", "help.cautions.release",
    ],
  },
];
