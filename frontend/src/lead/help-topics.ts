/** What help says at the desk, a few sentences a topic, and the screens each is about. */
import type { HelpTopic } from "../parts/types";
import type { Where } from "./where";

export interface DeskTopic extends HelpTopic {
  /** Screens it is about. */
  readonly screens: readonly Where["screen"][];
}
export const TOPICS: readonly DeskTopic[] = [
  { id: "today", title: "help.desk.today.title", screens: ["today"], says: ["help.desk.today.1", "help.desk.today.2"] },
  { id: "inspection", title: "help.desk.inspection.title", screens: ["inspection"], says: ["help.desk.inspection.1", "help.desk.inspection.2", "help.desk.inspection.3"] },
  { id: "hold", title: "help.desk.hold.title", screens: ["hold"], says: ["help.desk.hold.1", "help.desk.hold.2"] },
  { id: "shift", title: "help.shift.title", screens: ["closing"], says: ["help.shift.1", "help.shift.2", "help.shift.3"] },
  { id: "find", title: "help.desk.find.title", screens: ["find", "history"], says: ["help.desk.find.1", "help.desk.find.2"] },
  { id: "aside", title: "help.desk.aside.title", screens: ["aside"], says: ["help.desk.aside.1", "help.desk.aside.2"] },
  { id: "where", title: "help.desk.where.title", screens: ["where"], says: ["help.desk.where.1", "help.desk.where.2"] },
  { id: "repairs", title: "help.desk.repairs.title", screens: ["repairs"], says: ["help.desk.repairs.1", "help.desk.repairs.2"] },
  { id: "scopes", title: "help.desk.scopes.title", screens: ["scopes", "scope", "bring"], says: ["help.desk.scopes.1", "help.desk.scopes.2"] },
  { id: "stations", title: "help.desk.stations.title", screens: ["stations"], says: ["help.desk.stations.1", "help.desk.stations.2"] },
  { id: "people", title: "help.desk.people.title", screens: ["people", "codes"], says: ["help.desk.people.1", "help.desk.people.2"] },
  { id: "labels", title: "desk.labels", screens: ["labels"], says: ["labels.about.scope", "labels.about.person", "labels.about.place", "labels.size_note"] },
  { id: "policy", title: "help.desk.policy.title", screens: ["policy"], says: ["help.desk.policy.1", "help.desk.policy.2", "help.desk.policy.3"] },
  { id: "examples", title: "help.desk.examples.title", screens: ["examples"], says: ["help.desk.examples.1"] },
  { id: "facility", title: "help.desk.facility.title", screens: ["facility"], says: ["help.desk.facility.1", "help.desk.facility.2"] },
  { id: "marks", title: "help.marks.title", marks: true, screens: [], says: ["help.marks.1"] },
  { id: "cautions", title: "help.cautions.title", screens: [], says: ["caution.instructions", "caution.nothing_found", "caution.no_patient", "caution.not_diagnosis"] },
];
