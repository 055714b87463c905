/** The invented day that all scenes tell: Harrow Lake Day Hospital, colonoscope C-14. */
import catalogue from "../../../../shared/catalogue/catalogue.json";
import type { LinePart, MarksById, PersonFacts, SentFacts, ShownMark } from "../../../../frontend/src/parts/types";
import { say, type Key } from "../../../../frontend/src/parts/words";
import before from "./photo-before.svg";
import now from "./photo-now.svg";

export const photos = { before, now };

/** A route of the catalogue with its words. */
export function routeOf(kind: keyof typeof catalogue.kinds): LinePart[] {
  return catalogue.kinds[kind].parts.map((part) => ({
    id: part.id, shape: part.shape, zone: part.zone,
    name: say(`part.${part.id}` as Key), short: say(`part.${part.id}.short` as Key),
  }));
}
/** The channels of a kind, as a line of their own. */
export function channelsOf(kind: keyof typeof catalogue.kinds): LinePart[] {
  return catalogue.kinds[kind].channels.map((channel) => ({
    id: channel.id, shape: "channel", name: say(`part.${channel.id}` as Key), short: say(`part.${channel.id}.short` as Key),
  }));
}
export const kinds = Object.keys(catalogue.kinds) as (keyof typeof catalogue.kinds)[];

export const colonoscope = routeOf("colonoscope");

/** C-14 at 10:21: 10 looked, 1 finding, 1 could not look, 1 not due, 1 it has none, 16 not looked yet. */
export const marks: MarksById = {
  distal_tip: "nothing_found", end_cover: "nothing_found", lens: "nothing_found", light_guides: "nothing_found", nozzle: "nothing_found",
  channel_outlet: "nothing_found", jet_outlet: "none_here", band_tip: "finding", bending_cover: "nothing_found", band_tube: "nothing_found",
  stiffness_ring: "not_due", contacts: "could_not_look", leak_vent: "nothing_found", valves: "nothing_found",
};

/** All looked at but for what is said. */
export function looked(parts: readonly LinePart[], but: Readonly<Record<string, ShownMark>> = {}): MarksById {
  return Object.fromEntries(parts.map((part) => [part.id, but[part.id] ?? "nothing_found"]));
}

export const sent: SentFacts = { state: "saved_here", count: 14, unsentMinutes: 18 };
export const ila: PersonFacts = { id: "ila", initials: "IV", name: "Ila Venn", role: "technician" };
export const people: readonly PersonFacts[] = [ila, { id: "rin", initials: "RO", name: "Rin Oake" }, { id: "tobin", initials: "TS", name: "Tobin Sarr" }];
