/**
 * parts/ holds the look: presentational components, the scope line, words, tokens.
 * Props are data, events are callbacks; nothing here reads a store or another folder.
 */
import type { Key } from "./words";

/** The six marks of a part or channel; they are never merged. `not_looked` is the default, never a result. */
export type Mark = "nothing_found" | "finding" | "could_not_look" | "not_due" | "none_here" | "not_looked";

/** What a mark may look like: a finding that takes the scope out at once has its own shape. */
export type ShownMark = Mark | "out_of_use";

/** Marks by part id. A part that is not named has not been looked at. */
export type MarksById = Readonly<Record<string, ShownMark | undefined>>;

/** How far a record has come, in the order it goes. */
export type SentState = "draft" | "saved_here" | "on_server" | "in_shift_record";

/** What is drawn for a part; the catalogue carries it, an unknown word is drawn as a piece of tube. */
export type PartShape =
  | "tip" | "band" | "bending" | "tube" | "boot" | "body" | "knob" | "lever" | "cylinder" | "port" | "cord"
  | "plug" | "vent" | "valves" | "ring" | "switches" | "elevator" | "recess" | "cap" | "face" | "groove" | "eyepiece"
  | "post" | "handle" | "channel";

/** One part of a route as the line draws it. `short` is the name under the part, at most two lines. */
export interface LinePart {
  readonly id: string;
  readonly name: string;
  readonly short?: string | undefined;
  readonly shape: string;
  readonly zone?: string | undefined;
}

/** A zone: neighbouring parts that may be marked (or pointed at) together. */
export interface LineZone {
  readonly id: string;
  readonly name: string;
}

export type Theme = "bench" | "room";
export type Hand = "right" | "left";
export type Tone = "seen" | "find" | "stop" | "gap" | "na";
export type Role = "technician" | "runner" | "lead" | "deputy" | "auditor";
export type Grade = "minor" | "moderate" | "severe" | "present";
export type PlaceEnd = "tip" | "body" | "port";
export type Since = "new" | "same" | "worse" | "unknown";
export type PlaceKnown = "read_off" | "estimated" | "unknown";
export type First = "nothing" | "dry" | "clean" | "whole";
export type Goes = "on" | "hold" | "repair";

/** Second line of the bar: the point in bold, free text, the serial in mono (never wrapped, always left to right). */
export interface BarSub {
  readonly lead?: string | undefined;
  readonly text?: string | undefined;
  readonly serial?: string | undefined;
}

/**
 * What the corner says. `count` is how many entries are in `state`; `unsentMinutes` the age of the oldest
 * unsent one, from the store; `at` the local time of the last receipt, "11:58".
 */
export interface SentFacts {
  readonly state: SentState;
  readonly count: number;
  readonly unsentMinutes?: number | undefined;
  readonly at?: string | undefined;
  /** Said in place of the count, where the corner speaks of something else than this tablet's entries. */
  readonly words?: string | undefined;
}

export interface PersonFacts {
  readonly id: string;
  readonly initials: string;
  readonly name: string;
  readonly role?: Role | undefined;
}

/** One choice of a group. */
/** Trouble as it is shown: what is so, what is still safe, what to do next. */
export interface TroubleSaid {
  readonly so: string;
  readonly safe: string;
  readonly next: string;
  readonly code?: string | undefined;
}

export interface Option {
  readonly id: string;
  readonly label: string;
  readonly note?: string | undefined;
}

/** A ring on a photo, whole numbers 0..10000: x of its width, y of its height, r of its width. */
export interface Ring {
  readonly x: number;
  readonly y: number;
  readonly r: number;
}

/** A point on a photo, whole numbers 0..10000 of its width and height. */
export interface Spot {
  readonly x: number;
  readonly y: number;
}

/** From its tail to what it points at. */
export interface Arrow {
  readonly tail: Spot;
  readonly tip: Spot;
}

/** A thing of known size and the two points laid on it; `size_um` lies between them, off by `tolerance_um` at most. */
export interface Reference {
  readonly what: "ruler" | "tube" | "channel" | "other";
  readonly size_um: number;
  readonly tolerance_um: number;
  readonly a: Spot;
  readonly b: Spot;
  readonly channel?: string;
}

/** A thing whose size is known beforehand: from a ruler, or from this scope's record. */
export interface KnownSize {
  readonly what: Reference["what"];
  readonly size_um: number;
  readonly channel?: string;
  readonly label?: string;
}

/** A length on a photo of `width` x `height` px; each point may lie `aim_px100` hundredths of a pixel off. */
export interface Length {
  readonly width: number;
  readonly height: number;
  readonly a: Spot;
  readonly b: Spot;
  readonly aim_px100: number;
  readonly against: Reference;
}

/** What is laid over one photo. */
export interface Laid {
  readonly rings: readonly Ring[];
  readonly arrows: readonly Arrow[];
  readonly lengths: readonly Length[];
}

/** A picture and what is written under it. */
export interface PhotoFacts {
  readonly src?: string | undefined;
  /** It may show a person: no picture, whatever `src` says. */
  readonly restricted?: boolean | undefined;
  readonly alt: string;
  readonly lead?: string | undefined;
  readonly text?: string | undefined;
  readonly laid?: Laid | undefined;
}

/** One kind of finding that a part may show. */
export interface FindingRow {
  readonly id: string;
  readonly name: string;
  /** Whether the catalogue grades it; where it does not, the only answer is "present". */
  readonly graded: boolean;
  /** Whether it takes the scope out of use at once. */
  readonly outOfUse?: boolean | undefined;
}

export interface FindingChoice {
  readonly id: string;
  readonly grade: Grade;
}

/** A place along a tube or channel, whole cm from the end it was measured from. */
export interface Place {
  readonly cm: number | null;
  readonly from: PlaceEnd;
  readonly known: PlaceKnown;
}

/** A named stretch of the ruler, cm from its zero. */
export interface Stretch {
  readonly from: number;
  readonly to: number;
  readonly name?: string | undefined;
}

/** One step of a test. `doneAt` is the local time it was tapped. */
export interface Step {
  readonly id: string;
  readonly title: string;
  readonly note?: string | undefined;
  readonly doneAt?: string | undefined;
}

/** Why an answer stands where it stands. */
export type Standing = "suggested" | "asks_lead" | "free";

/** One answer of the decision; `note` is shown under it when `standing` says nothing or needs more words. */
export interface Answer<Id extends string> {
  readonly id: Id;
  readonly label: string;
  readonly standing: Standing;
  readonly note?: string | undefined;
}

/** One policy row that speaks: what it saw, its own words with number and source, what follows. */
export interface PolicyRow {
  readonly mark: ShownMark;
  readonly title: string;
  readonly note: string;
  readonly then: First | Goes;
  readonly thenLabel: string;
}

/** One thing that is missing or open. */
export interface OpenItem {
  readonly id: string;
  readonly title: string;
  readonly note?: string | undefined;
  readonly mark?: ShownMark | undefined;
}

/** One inspection in the lead's list. */
export interface InspectionRow {
  readonly id: string;
  readonly scope: string;
  readonly point: string;
  readonly at: string;
  readonly person: string;
  readonly parts: readonly LinePart[];
  readonly marks: MarksById;
  readonly sent: SentState;
  readonly note?: string | undefined;
}

/** What the scanner is doing. */
export type ScanState = "ready" | "read" | "refused" | "no_scanner";

/** What may be said against a photo before it is kept: each a mark, none a bar. */
export type Against = "too_dark" | "washed_out" | "glare" | "fogged" | "soft_spot" | "moved" | "not_sharp";

/** What is said of a picture. */
export type Tells = "sharp" | Against;

/** A topic of help: its heading and its sentences; `marks` shows the six marks with it. */
export interface HelpTopic {
  readonly id: string;
  readonly title: Key;
  readonly says: readonly Key[];
  readonly marks?: boolean;
}
