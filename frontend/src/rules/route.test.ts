import { readFileSync } from "node:fs";
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Catalogue } from "./chain-catalogue";
import { NOTHING, type PartMark, type ThreadState } from "./chain-state";
import { countMarks, leftOf, marksOf, nextStop, routeOf, zoneOffer, type Route } from "./route";

const catalogue = JSON.parse(
  readFileSync(new URL("../../../shared/catalogue/catalogue.json", import.meta.url), "utf8"),
) as Catalogue;

function afterCleaning(none: readonly string[] = [], notDue: readonly string[] = []): Route {
  const route = routeOf(catalogue, "colonoscope", "after_cleaning", none, notDue);
  if (route === undefined) throw new Error("the catalogue has no colonoscope after cleaning");
  return route;
}

const withMarks = (marks: Record<string, PartMark>): ThreadState => ({
  ...NOTHING, marks: Object.fromEntries(Object.entries(marks).map(([id, mark]) => [id, [[mark, "h"] as const]])),
});
const CHANNELS = ["ch_instrument", "ch_junction", "ch_suction", "ch_air", "ch_water", "ch_jet"];

test("the six counts add up to the parts and channels of the route, whatever was marked", () => {
  const ids = afterCleaning().stops.map((stop) => stop.id);
  const mark = fc.constantFrom<PartMark>("finding", "could_not_look", "nothing_found");
  fc.assert(fc.property(
    fc.dictionary(fc.constantFrom(...ids), mark), fc.subarray(ids), fc.subarray(ids), (marks, none, notDue) => {
      const route = afterCleaning(none, notDue);
      const counts = countMarks(marksOf(route, withMarks(marks)));
      expect(Object.values(counts).reduce((a, b) => a + b, 0)).toBe(36);
      const unmarked = ids.filter((id) => !(id in marks) && !none.includes(id) && !notDue.includes(id));
      expect(counts.not_looked).toBe(unmarked.length);
    },
  ));
});

describe("a colonoscope after cleaning with nothing found", () => {
  test("takes ten marks when no channel is due, so twelve taps with the serial photo and the decision", () => {
    const route = afterCleaning([], CHANNELS);
    const marked: Record<string, PartMark> = {};
    let taps = 0;
    for (;;) {
      const marks = marksOf(route, withMarks(marked));
      const stop = nextStop(route, marks);
      if (stop === undefined) break;
      const offer = zoneOffer(route, withMarks(marked), marks, stop.id);
      for (const id of offer !== undefined && "parts" in offer ? offer.parts : [stop.id]) marked[id] = "nothing_found";
      taps += 1;
    }
    expect(taps).toBe(10);
    expect(leftOf(route, marksOf(route, withMarks(marked)))).toEqual([]);
  });

  test("never offers the nozzle, channel outlet, adhesive bands or biopsy port as part of a zone", () => {
    const route = afterCleaning();
    const offered = route.stops.flatMap((stop) => {
      const offer = zoneOffer(route, NOTHING, marksOf(route, NOTHING), stop.id);
      return offer !== undefined && "parts" in offer ? offer.parts : [];
    });
    for (const id of ["nozzle", "channel_outlet", "band_tip", "band_tube", "biopsy_port"]) expect(offered).not.toContain(id);
  });
});

test("a photo or a finding in the zone closes its one-tap answer, with the reason", () => {
  const route = afterCleaning();
  const photo: ThreadState = { ...NOTHING, photos: { tube_1: ["h"] } };
  expect(zoneOffer(route, photo, marksOf(route, photo), "tube_2")).toEqual({ zone: "tube", refused: "zone_has_photo" });
  const finding = withMarks({ tube_3: "finding" });
  expect(zoneOffer(route, finding, marksOf(route, finding), "tube_2")).toEqual({ zone: "tube", refused: "zone_has_finding" });
});

test("a zone of which another tablet marked a part is marked part by part, as the chain rule wants it", () => {
  const route = afterCleaning();
  const marks = marksOf(route, NOTHING, { tube_1: "nothing_found" });
  expect(zoneOffer(route, NOTHING, marks, "tube_2")).toEqual({ zone: "tube", refused: "zone_elsewhere" });
});

test("no zone at acceptance", () => {
  const route = routeOf(catalogue, "colonoscope", "acceptance");
  expect(route && zoneOffer(route, NOTHING, marksOf(route, NOTHING), "tube_2")).toBeUndefined();
});

test("at acceptance the ports come first, then the rest from end to end; at other points nothing comes before its turn", () => {
  // ICHE 2012: two bronchoscopes came back from repair with loose biopsy ports.
  const walked = (point: string): string[] => {
    const route = routeOf(catalogue, "colonoscope", point);
    if (route === undefined) throw new Error(`no route for ${point}`);
    const marks = { ...marksOf(route, NOTHING) };
    const names: string[] = [];
    for (let stop = nextStop(route, marks); stop !== undefined; stop = nextStop(route, marks, stop.id)) {
      names.push(stop.id);
      marks[stop.id] = "nothing_found";
    }
    return names;
  };
  const stops = (point: string): readonly string[] => routeOf(catalogue, "colonoscope", point)?.stops.map(({ id }) => id) ?? [];
  const ports = routeOf(catalogue, "colonoscope", "acceptance")?.stops.filter(({ shape }) => shape === "port").map(({ id }) => id) ?? [];
  expect(ports).toContain("biopsy_port");
  const first = walked("acceptance");
  expect(first.slice(0, ports.length)).toEqual(ports);
  const rest = stops("acceptance").filter((id) => !ports.includes(id));
  expect(first.slice(ports.length).toSorted()).toEqual(rest.toSorted());
  expect(walked("after_cleaning")).toEqual(stops("after_cleaning"));
});
