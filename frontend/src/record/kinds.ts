// Made by `loupebook schema` from backend/loupebook/record/kinds.py. Change it there; a test fails when this is stale.
/** The closed list of entry kinds and the shape of each body. Whole numbers only. */

/** What a line holds where the kind decides the shape. */
export type Json = null | boolean | number | string | readonly Json[] | { readonly [key: string]: Json };

/** Lower-case hex of a SHA-256: the identity of an entry, a photo, a chain, a catalogue, a policy. */
export type Sha256 = string;

/** `udi:DI/SERIAL`, or `mms:MAKER|MODEL|SERIAL` where the scope carries no UDI. */
export type ScopeKey = string;

/** RFC 3339 with milliseconds and offset. */
export type Moment = string;

export type Point = "at_leak_test" | "after_cleaning" | "after_drying" | "before_use" | "acceptance";

export type First = "nothing" | "dry" | "clean" | "whole";

export type Goes = "on" | "hold" | "repair";

export type Grade = "present" | "minor" | "moderate" | "severe";

export type Since = "new" | "same" | "worse" | "unknown";

export type Shows = "serial" | "part" | "finding" | "leak_test" | "case" | "other";

export type Known = "read_off" | "estimated" | "unknown";

export type End = "tip" | "body" | "port";

/** What the station knew of its clock: `ahead_ms` against the server, and when it last asked. */
export interface Clock {
  readonly ahead_ms: number;
  readonly checked_at: Moment;
}

/** How the person was proved. `named` = chosen from the list, not proved. A ticket only when online. */
export interface Proof {
  readonly how: "badge" | "named" | "pin" | "sso";
  readonly where: "offline" | "online";
  readonly ticket?: string;
}

/** What the entry is about. `inspection` is the hash of this chain's own `inspection.begun`. */
export interface About {
  readonly scope?: ScopeKey;
  readonly inspection?: Sha256;
  readonly repair?: Sha256;
  readonly shift?: string;
  readonly tool?: string;
}

/** How a photo was taken, and what was told of it then: a mark, never a bar. `told`: nothing in it, nothing was said against the photo. `sharp_permille`: of the sharpest this camera had shown. `of`: how many frames the sharpest was kept of. `at`: when, by the tablet's clock; of a file by the clock of what wrote it (the entry says when it was kept). `camera`: the name the camera gives itself. `tool`: what stood before it, as in `about.tool`. Left out: not known. */
export interface Taken {
  readonly way: "file" | "live" | "sheet";
  readonly told?: readonly ("fogged" | "glare" | "moved" | "not_sharp" | "soft_spot" | "too_dark" | "washed_out")[];
  readonly sharp_permille?: number;
  readonly of?: number;
  readonly at?: Moment;
  readonly camera?: string;
  readonly tool?: string;
}

/** A photo named by an entry: hash of the stored bytes, their number, type, pixels, what it shows. */
export interface Photo {
  readonly sha256: Sha256;
  readonly bytes: number;
  readonly type: "image/jpeg" | "image/png" | "image/webp";
  readonly width: number;
  readonly height: number;
  readonly shows: Shows;
  readonly taken?: Taken;
}

/** One entry as written on its line. `body` stays raw until its kind's struct reads it. */
export interface Entry {
  readonly v: 1;
  readonly chain: Sha256;
  readonly seq: number;
  readonly prev: Sha256;
  readonly kind: string;
  readonly at: Moment;
  readonly clock: Clock | null;
  readonly person: string;
  readonly proof: Proof;
  readonly build: string;
  readonly about: About;
  readonly body: Json;
  readonly photos: readonly Photo[];
  readonly basis?: Sha256;
}

/** How the scope was named at the start. `text` is the code as read, never interpreted twice. */
export interface Identified {
  readonly by: "camera" | "list" | "typed" | "wedge";
  readonly text?: string;
  readonly symbology?: string;
  readonly proves?: "scope" | "tag";
}

/** A session on one scope at one point. Its hash is the inspection's id, unless it continues one. */
export interface InspectionBegun {
  readonly point: Point;
  readonly scope_kind: string;
  readonly catalogue: Sha256;
  readonly policy: Sha256;
  readonly shift: string;
  readonly identified: Identified;
  readonly none_here?: readonly string[];
  readonly not_due?: readonly string[];
  readonly continues?: Sha256;
  readonly practice?: boolean;
}

/** The photo of the serial number and how it was held against the scanned identity. */
export interface SerialPhotographed {
  readonly how: "code" | "last_four" | "unreadable";
  readonly agrees: "no" | "unknown" | "yes";
  readonly code?: string;
  readonly last_four?: string;
  readonly where?: string;
}

/** One part, or the parts of one zone, marked. A finding marks its part by itself. */
export interface PartMarked {
  readonly mark: "could_not_look" | "nothing_found";
  readonly parts: readonly string[];
  readonly zone?: string;
  readonly reason?: string;
  readonly tool?: string;
}

/** Where along the scope: millimetres from a named end, and how that is known. */
export interface Place {
  readonly mm: number;
  readonly end: End;
  readonly known: Known;
}

/** A ring on a photo, in ten-thousandths of the photo's width (x, r) and height (y). */
export interface Ring {
  readonly photo: Sha256;
  readonly x: number;
  readonly y: number;
  readonly r: number;
}

/** A point on a photo, in ten-thousandths of its width (x) and height (y). */
export interface Spot {
  readonly x: number;
  readonly y: number;
}

/** An arrow on a photo: from its tail to what it points at. */
export interface Arrow {
  readonly photo: Sha256;
  readonly tail: Spot;
  readonly tip: Spot;
}

/** A thing of known size in the same photo, and the two points laid on it. What `rules/measure` scales by. `size_um` lies between the two points; `tolerance_um` is how far the size may be off, either way, at most. `what`: a ruler's marks, the insertion tube's outer or a channel's inner diameter (`channel`), another thing. */
export interface Reference {
  readonly what: "channel" | "other" | "ruler" | "tube";
  readonly size_um: number;
  readonly tolerance_um: number;
  readonly a: Spot;
  readonly b: Spot;
  readonly channel?: string;
}

/** A length on a photo of `width` x `height` pixels, with the thing of known size that it is measured against. `aim_px100`: each point may lie this far off, either way, along each side, in hundredths of a pixel of the photo. Millimetres are never written: `rules/measure` makes them, with their uncertainty, from what stands here. */
export interface Length {
  readonly photo: Sha256;
  readonly width: number;
  readonly height: number;
  readonly a: Spot;
  readonly b: Spot;
  readonly aim_px100: number;
  readonly against: Reference;
}

/** Two photos that stood side by side on the screen before somebody said "same" or "worse". `size`: as small pictures beside the answer, or large. `laid`: how one lay over the other, where it did: aligned by the tablet, by hand, or as they are. */
export interface Beside {
  readonly before: Sha256;
  readonly now: Sha256;
  readonly size: "large" | "small";
  readonly laid?: "as_they_are" | "by_hand" | "by_itself";
}

/** Something seen. `compared` is the earlier photo that stood beside the new one on the screen. */
export interface FindingRecorded {
  readonly part: string;
  readonly finding: string;
  readonly grade: Grade;
  readonly since: Since;
  readonly place?: Place;
  readonly compared?: Sha256;
  readonly rings?: readonly Ring[];
  readonly note?: string;
  readonly arrows?: readonly Arrow[];
  readonly lengths?: readonly Length[];
  readonly beside?: Beside;
}

/** A photo of a part that asks for no finding, or one more of a finding. */
export interface PhotoAdded {
  readonly part?: string;
  readonly finding?: Sha256;
  readonly rings?: readonly Ring[];
  readonly place?: Place;
  readonly arrows?: readonly Arrow[];
  readonly lengths?: readonly Length[];
}

/** Marks laid over a photo that is already in the record. To take them back, this entry is withdrawn. */
export interface PhotoMarked {
  readonly photo: Sha256;
  readonly rings?: readonly Ring[];
  readonly arrows?: readonly Arrow[];
  readonly lengths?: readonly Length[];
}

/** The photo may show a person or patient data: hidden at once. Only a lead's `photo.shown_again` ends it. */
export interface PhotoRestricted {
  readonly photo: Sha256;
}

/** What a test or a function tried showed, or a measured value in thousandths of its UCUM unit. `what`: leak_test (held, bubbles, pressure_dropped, could_not_test), leakage_current (within_limit, over_limit, could_not_test), a check of the catalogue (works, weak, does_not_work, not_checked), or what was measured (value). `limit_thousandths`: the highest value that passes as the maker of the test states it for this test. With `pressure_pa`, `unit` is the one its tester showed (`rules/units.py`). */
export interface ReadingTaken {
  readonly what: string;
  readonly result: "bubbles" | "could_not_test" | "does_not_work" | "held" | "not_checked" | "over_limit" | "pressure_dropped" | "value" | "weak" | "within_limit" | "works";
  readonly steps?: readonly string[];
  readonly parts?: readonly string[];
  readonly zone?: string;
  readonly reason?: string;
  readonly pressure_pa?: number;
  readonly held_s?: number;
  readonly value_thousandths?: number;
  readonly limit_thousandths?: number;
  readonly unit?: string;
  readonly meter?: string;
  readonly lot?: string;
  readonly note?: string;
}

/** One run through a channel, or its flow where no borescope goes. `borescope` is the tool's id, as in `about.tool` of its own entries. A channel whose flow alone was tried is `not_possible`: nobody saw its inside, whatever the flow showed. `length_mm` is the channel's own length as the scope's record gave it then: runs from both ends that reach it together are a look through (`rules/runs.py`). */
export interface ChannelLooked {
  readonly channel: string;
  readonly outcome: "blocked" | "not_possible" | "through";
  readonly way?: "from_port" | "from_tip";
  readonly borescope?: string;
  readonly reached_mm?: number;
  readonly length_mm?: number;
  readonly known?: Known;
  readonly flow?: "blocked" | "free" | "not_done" | "weak";
  readonly reason?: string;
}

/** A part not looked at when the inspection ended early, and why. */
export interface Left {
  readonly part: string;
  readonly reason: string;
}

/** The six marks; they add up to the parts and channels of the route. Out of use is within `finding`. */
export interface Counts {
  readonly not_looked: number;
  readonly nothing_found: number;
  readonly finding: number;
  readonly could_not_look: number;
  readonly not_due: number;
  readonly none_here: number;
}

/** The decision in two answers beside what the policy suggested, and what it relies on from other chains. */
export interface InspectionConcluded {
  readonly first: First;
  readonly goes: Goes;
  readonly suggested_first: First;
  readonly suggested_goes: Goes;
  readonly rows: readonly string[];
  readonly counts: Counts;
  readonly relies?: readonly Sha256[];
  readonly elsewhere?: readonly string[];
  readonly left?: readonly Left[];
  readonly tag_on?: boolean;
  readonly disinfection?: Sha256;
  readonly words?: string;
}

/** Ended without a result. */
export interface InspectionAbandoned {
  readonly reason: string;
  readonly note?: string;
}

/** A scope met on the spot, without a record yet. `about.scope` carries its key. */
export interface ScopeRegistered {
  readonly scope_kind: string;
  readonly serial: string;
  readonly di?: string;
  readonly maker?: string;
  readonly model?: string;
  readonly tag?: string;
  readonly codes?: readonly string[];
}

/** A used scope has come. With `of` nothing is received anew: what was left out is said of that receipt. */
export interface ScopeReceived {
  readonly place: string;
  readonly procedure_end?: Moment;
  readonly pre_clean?: "no" | "unknown" | "yes";
  readonly cleaning_begun?: Moment;
  readonly of?: Sha256;
}

/** A machine's cycle has ended with this scope in it. Nothing here says that it succeeded. */
export interface ScopeProcessed {
  readonly place: string;
  readonly machine?: string;
  readonly cycle?: string;
}

/** A tool met at the sink: what it is and its sizes, from its maker's instructions. `about.tool` carries its id. The newest of an id stands. A width in micrometres, a length in millimetres; what is not known is left out. */
export interface ToolRegistered {
  readonly what: "borescope";
  readonly place: string;
  readonly width_um?: number;
  readonly length_mm?: number;
  readonly codes?: readonly string[];
}

/** The tool was cleaned and disinfected after use, as its own instructions say. `about.tool` carries its id. */
export interface ToolProcessed {
  readonly place: string;
}

/** The scope hangs at this place: a cabinet, a shelf. */
export interface ScopeHung {
  readonly place: string;
}

/** The scope was taken out of where it hung; `place` is where it goes. */
export interface ScopeTaken {
  readonly place: string;
}

/** The scope must wait for a lead. `tag_on` false = no tag was at hand; the hold stands all the same. */
export interface HoldPlaced {
  readonly reason: string;
  readonly tag_on: boolean;
  readonly note?: string;
}

/** Who takes a scope: a person of the house by id, a place of the house, or somebody outside by name, as said. Somebody outside needs no account: `firm` and the `waybill` number are as read off their papers. */
export interface Party {
  readonly kind: "outside" | "person" | "place";
  readonly name: string;
  readonly firm?: string;
  readonly waybill?: string;
}

/** The person who writes this holds the scope out. `to` left out: to whoever takes it. `basis` is what was known. */
export interface CustodyOffered {
  readonly place: string;
  readonly to?: Party;
  readonly note?: string;
}

/** An offer as its giver's screen showed it to a tablet that did not know it. The `basis` of the entry is its hash. `chain` and `seq` say where it stands, `at_ms` when (ms UTC); `on` is its own basis, left out where it had none; `to` the person it was meant for, left out where it was whoever takes it. */
export interface OfferShown {
  readonly chain: Sha256;
  readonly seq: number;
  readonly giver: string;
  readonly at_ms: number;
  readonly to?: string;
  readonly on?: Sha256;
}

/** Taken; `basis` is the offer. The taker's own badge or PIN stands in `person` and `proof`. Somebody outside has none: then the giver writes it, and a photo shows the case in their hands or their signature. */
export interface CustodyAccepted {
  readonly place: string;
  readonly holder: Party;
  readonly offer?: OfferShown;
}

/** Not taken, and why; `basis` is the offer. The scope stays with the giver. */
export interface CustodyDeclined {
  readonly reason: string;
  readonly note?: string;
  readonly offer?: OfferShown;
}

/** Back from somebody outside, in the hands of the person who writes this. `by` says who brought it. */
export interface CustodyReturned {
  readonly place: string;
  readonly by?: Party;
}

/** A lead's word by phone, as who heard it writes it down: whose, and when. A lead confirms it at the desk later. */
export interface ByPhone {
  readonly who: string;
  readonly at: Moment;
}

/** A lead's word by phone on a hold, as who heard it writes it down. The hold stands until a lead confirms it. Repair by phone is `repair.asked` with `phone`. */
export interface HoldPhoned {
  readonly hold: Sha256;
  readonly goes: "hold" | "on";
  readonly first: First;
  readonly words: string;
  readonly phone: ByPhone;
}

/** Whoever was asked says themself what came of it; nobody writes it for them. Needs `about.scope`. seen: of a second opinion, what they saw in the photos: `finding` and `grade`, or neither where they saw nothing. */
export interface WorkAnswered {
  readonly asked: Sha256;
  readonly did: "done" | "not_done" | "seen";
  readonly finding?: string;
  readonly grade?: Grade;
  readonly words?: string;
}

/** Somebody asks for a repair, in their own words. `inspections` names begun entries whose findings go along. With `phone` a lead has opened it by phone: it may be packed and handed over at once, and waits to be confirmed. */
export interface RepairAsked {
  readonly words: string;
  readonly inspections?: readonly Sha256[];
  readonly phone?: ByPhone;
}

/** One step that was done, and how: agent, method, machine and cycle, as the instructions for use name them. */
export interface DecontaminationDone {
  readonly what: "cleaned" | "disinfected" | "flushed" | "sterilized" | "wiped";
  readonly how?: string;
}

/** One step that could not be done, and why. */
export interface DecontaminationLeft {
  readonly what: "cleaned" | "disinfected" | "flushed" | "sterilized" | "wiped";
  readonly reason: string;
}

/** What was done to a scope before it goes out, when, by whom; what was not, and what stays contaminated. `contaminated`: parts and channels of the catalogue, or `inside` (the whole inside and all channels). An empty list says that none is known to stay contaminated. `label_on`: the label with these words is on it. Source: 29 CFR 1910.1030(d)(2)(xiv): a label stating which portions remain contaminated. */
export interface RepairDecontaminated {
  readonly done: readonly DecontaminationDone[];
  readonly not_done: readonly DecontaminationLeft[];
  readonly processed_by: string;
  readonly processed_at: Moment;
  readonly contaminated: readonly string[];
  readonly label_on: boolean;
  readonly note?: string;
}

/** What lies in the case beside the scope, counted. */
export interface Accessory {
  readonly what: string;
  readonly count: number;
}

/** The case is packed; a photo shows it. Whom to call and where it comes back to are as the paper in it says. No accessory means that none lies in it. `order`, `warranty`: their numbers. `last_used`: the day alone. */
export interface RepairPacked {
  readonly accessories: readonly Accessory[];
  readonly contact: string;
  readonly return_address: string;
  readonly order?: string;
  readonly warranty?: string;
  readonly last_used?: string;
  readonly expected_back?: string;
}

/** It left: with whom, under which number, to whom, and the day it is expected back. A newer one names it. `loaner`: the key of the scope that stands in for it. */
export interface RepairShipped {
  readonly carrier: string;
  readonly number?: string;
  readonly to?: string;
  readonly expected_back?: string;
  readonly loaner?: string;
}

/** What the repairer says of it, in words. `estimate`: it asks for a lead's answer. A price is nobody's duty. `price_minor` counts the smallest unit of `currency` (ISO 4217). */
export interface RepairNoted {
  readonly words: string;
  readonly estimate?: boolean;
  readonly price_minor?: number;
  readonly currency?: string;
  readonly expected_back?: string;
}

/** It is here again; a photo shows its serial number. `over` are the steps of the trip that this ends. `serial`: whether the number read off is the one on record; `read` what it is where it differs. `papers`: the repairer's papers came with it. `swapped`: parts that are not those that left, in words. */
export interface RepairReturned {
  readonly place: string;
  readonly serial: "no" | "unreadable" | "yes";
  readonly papers: boolean;
  readonly accessories: readonly Accessory[];
  readonly over: readonly Sha256[];
  readonly read?: string;
  readonly swapped?: readonly string[];
  readonly note?: string;
}

/** A scope came on loan; a photo shows its serial number. `owner`: whose it is. `stands_for`: the scope it replaces. `instructions`: its instructions for use are at hand. `fits`: connectors and brushes fit it, as somebody tried. */
export interface LoanerReceived {
  readonly place: string;
  readonly owner: string;
  readonly instructions: boolean;
  readonly fits: "no" | "not_tried" | "yes";
  readonly accessories: readonly Accessory[];
  readonly until?: string;
  readonly stands_for?: string;
  readonly note?: string;
}

/** What is known of a loan since it came: its `basis` is the word of its coming. What is left out stays as it was. `stands_for`: the key of the scope it stands in for, '' for none any more. */
export interface LoanerNoted {
  readonly instructions?: boolean;
  readonly fits?: "no" | "not_tried" | "yes";
  readonly until?: string;
  readonly stands_for?: string;
  readonly note?: string;
}

/** A scope on loan left; one photo shows its serial number, one how it left. `over`: the words of its coming. `processing`: the entry of the processing that came last; left out, none is on record since it was last used, and `unprocessed` says why it left all the same. */
export interface LoanerSentBack {
  readonly place: string;
  readonly carrier: string;
  readonly accessories: readonly Accessory[];
  readonly over: readonly Sha256[];
  readonly number?: string;
  readonly processing?: Sha256;
  readonly unprocessed?: string;
  readonly note?: string;
}

/** Takes back an entry of the same chain: undo, or a later second thought. */
export interface EntryWithdrawn {
  readonly entry: Sha256;
  readonly reason?: string;
}

/** Replaces the whole body of `entry`; `builds_on` is the version the author had before them. */
export interface EntryCorrected {
  readonly entry: Sha256;
  readonly builds_on: Sha256;
  readonly body: Json;
  readonly reason?: string;
}

export interface AsideSettled {
  readonly entry: Sha256;
  readonly outcome: "count" | "leave_out";
  readonly reason: string;
}

export interface PersonAdded {
  readonly person: string;
  readonly roles: readonly ("auditor" | "deputy" | "lead" | "runner" | "technician")[];
}

/** What a person may do from now on. `by`: nothing of that changed, a code opens their sign-in. recovery_code: the one they had on paper was used. server_machine: a new one was made at the server itself. */
export interface PersonChanged {
  readonly person: string;
  readonly roles: readonly ("auditor" | "deputy" | "lead" | "runner" | "technician")[];
  readonly active: boolean;
  readonly by?: "recovery_code" | "server_machine";
  readonly station?: string;
}

export interface StationEnrolled {
  readonly station: string;
  readonly chain: Sha256;
  readonly name: string;
  readonly place: string;
  readonly side: "both" | "clean" | "dirty";
  readonly points: readonly Point[];
}

/** A station went on in a new chain. What it last had of the old one is named, and why it ended. */
export interface StationChained {
  readonly station: string;
  readonly chain: Sha256;
  readonly old_chain: Sha256;
  readonly old_seq: number;
  readonly old_hash?: Sha256;
  readonly why?: "cloned" | "forked" | "refused" | "rolled_back" | "server_ahead" | "wiped";
}

export interface StationRevoked {
  readonly station: string;
  readonly reason: string;
}

export interface PolicySet {
  readonly sha256: Sha256;
  readonly reason: string;
}

export interface CatalogueSet {
  readonly sha256: Sha256;
  readonly reason: string;
}

export interface FrequencySet {
  readonly sha256: Sha256;
  readonly reason: string;
}

/** How long this facility means to keep its record, in years; left out: without end. Nothing is deleted by it. */
export interface RetentionSet {
  readonly reason: string;
  readonly years?: number;
}

/** One channel of one scope, from its own instructions: inner diameter in µm, length port to outlet in mm. `length_mm` is the channel's own, never the working length. `reach` stands for this scope in place of the catalogue's word: a borescope goes in, only its flow can be tried, or neither. */
export interface ChannelSize {
  readonly channel: string;
  readonly inner_um?: number;
  readonly length_mm?: number;
  readonly reach?: "borescope" | "flow" | "none";
}

/** Which instructions the sizes were read from: title or number, edition, and their date (YYYY-MM-DD). */
export interface Instructions {
  readonly title: string;
  readonly edition?: string;
  readonly dated?: string;
}

/** What the facility records of a scope: sizes from its own instructions, what it has none of. Each description is whole: it stands in the place of the one before. `tube_mm` is the working length, `tube_um` the insertion tube's outer diameter. */
export interface ScopeDescribed {
  readonly scope_kind: string;
  readonly serial: string;
  readonly di?: string;
  readonly maker?: string;
  readonly model?: string;
  readonly tag?: string;
  readonly codes?: readonly string[];
  readonly none_here?: readonly string[];
  readonly tube_mm?: number;
  readonly serial_where?: string;
  readonly channels?: readonly ChannelSize[];
  readonly instructions?: Instructions;
  readonly tube_um?: number;
}

/** A lead decides a hold. `over` names the words by phone that this confirms, or decides otherwise. */
export interface HoldDecided {
  readonly hold: Sha256;
  readonly goes: Goes;
  readonly first: First;
  readonly reason: string;
  readonly over?: readonly Sha256[];
}

/** A lead brings a hold before those who must hear of it, with a question or a plain word. Needs `about.scope`. */
export interface HoldEscalated {
  readonly hold: Sha256;
  readonly to: readonly ("biomed" | "infection_prevention" | "risk")[];
  readonly words: string;
}

/** What came back of it, as a lead writes it down: `by` says who, by name or office; they need no account here. */
export interface HoldAdvised {
  readonly hold: Sha256;
  readonly over: readonly Sha256[];
  readonly by: string;
  readonly words: string;
}

/** A finding as it stood when a second opinion was asked for. */
export interface FirstSaid {
  readonly finding: string;
  readonly grade: Grade;
}

/** A lead asks somebody to do a thing themself. Left out `to`: whoever comes to it first. Needs `about.scope`. look_again: the parts are looked at again. correct: an entry of their own (`of`). second_opinion: what the photos show, without having seen what was said of them first (`of` is that finding, or the mark of a part where nothing was found); `not_by` said it, and may not answer. `first`: what stood of that part then, nothing in it = nothing found; no tablet is told. `drawn`: the server asked by chance, because of this `inspection.concluded`. */
export interface WorkAsked {
  readonly what: "correct" | "look_again" | "second_opinion";
  readonly of: Sha256;
  readonly reason: string;
  readonly to?: string;
  readonly parts?: readonly string[];
  readonly photos?: readonly Sha256[];
  readonly not_by?: readonly string[];
  readonly first?: readonly FirstSaid[];
  readonly drawn?: Sha256;
}

/** It is asked for no more, and why. */
export interface WorkDropped {
  readonly asked: Sha256;
  readonly reason: string;
}

/** A lead says who has a scope, over the entries that say different things of it. Needs `about.scope`. */
export interface CustodySettled {
  readonly over: readonly Sha256[];
  readonly holder: Party;
  readonly reason: string;
}

/** A lead opens a repair, or confirms what was asked or said by phone: `over` names those. Needs `about.scope`. */
export interface RepairOpened {
  readonly reason: string;
  readonly over?: readonly Sha256[];
  readonly inspections?: readonly Sha256[];
}

/** A lead ends a repair. `over` names all that asked for it or opened it; what comes later asks anew. */
export interface RepairClosed {
  readonly over: readonly Sha256[];
  readonly outcome: "done" | "not_needed" | "replaced" | "wrong_scope";
  readonly reason: string;
}

/** A lead answers an estimate: `over` names the repairer's words it is about. Needs `about.scope`. */
export interface RepairApproved {
  readonly over: readonly Sha256[];
  readonly approved: boolean;
  readonly reason: string;
}

/** The server read another number in the serial photo of an inspection part than that of the scope named there. Written only where a code with a good check digit contradicts. `person` is `server`: no person acts here. */
export interface SerialRead {
  readonly photo: Sha256;
  readonly begun: Sha256;
  readonly code: string;
  readonly agrees: "no";
}

/** As `photo.restricted`, by a lead at the desk. */
export interface PhotoHidden {
  readonly photo: Sha256;
}

/** A lead looked: it shows no person. `hidden` names the entries this ends; one that comes later hides it anew. */
export interface PhotoShownAgain {
  readonly photo: Sha256;
  readonly hidden: readonly Sha256[];
  readonly reason: string;
}

/** A lead asked to see a hidden photo, and why. Its bytes are given to this person alone, for ten minutes. */
export interface PhotoOpened {
  readonly photo: Sha256;
  readonly reason: string;
}

/** A lead asks for a hidden photo to be erased, and why. Nothing is erased until a second lead agrees. */
export interface PhotoErasureAsked {
  readonly photo: Sha256;
  readonly reason: string;
}

/** A second lead agreed: the bytes of the photo, and every picture made of them, leave this server and all tablets. `asked` is the entry of the lead who asked. The entries that name the photo, its hash and its length stay. */
export interface PhotoErased {
  readonly photo: Sha256;
  readonly asked: Sha256;
}

/** A photo of the record stands as this facility's own example of a finding and grade, beside the grade buttons. */
export interface ExampleChosen {
  readonly photo: Sha256;
  readonly finding: string;
  readonly grade: Grade;
  readonly note?: string;
}

/** The example is shown no more. `example` is the entry that chose it. */
export interface ExampleWithdrawn {
  readonly example: Sha256;
  readonly reason: string;
}

/** A lead's answer to one thing that stands open in the shift of `about.shift`; the newest counts. without: the shift is closed without it, and why. carried: to the next shift, to somebody. open: neither, again. */
export interface ShiftAnswered {
  readonly sort: "aside" | "asked" | "hold" | "inspection" | "late" | "offer" | "photos" | "received" | "skipped" | "station" | "tool";
  readonly of: ScopeKey;
  readonly answer: "carried" | "open" | "without";
  readonly reason?: string;
  readonly owner?: string;
}

/** A shift in numbers, without practice. `inspections` are `not_concluded`, `abandoned`, and the concluded ones. Those are `nothing_found`, `with_finding`, and `out_of_use` (a finding that takes a scope out of use, or a failed test); and again by what is done first, and by where it goes. `parts`: the six marks of all of them. `findings` and `photos` are single ones; `photos_waiting` of those are not here yet. `holds`: that stand at the place. */
export interface ShiftCounts {
  readonly inspections: number;
  readonly not_concluded: number;
  readonly abandoned: number;
  readonly nothing_found: number;
  readonly with_finding: number;
  readonly out_of_use: number;
  readonly first_nothing: number;
  readonly first_dry: number;
  readonly first_clean: number;
  readonly first_whole: number;
  readonly goes_on: number;
  readonly goes_hold: number;
  readonly goes_repair: number;
  readonly parts: Counts;
  readonly findings: number;
  readonly photos: number;
  readonly photos_waiting: number;
  readonly holds: number;
  readonly aside: number;
  readonly scopes: number;
}

/** Things of one sort that stood open and were answered alike. `of` names them, `count` says how many they are. settled: answered or carried here, and settled by itself since. unanswered: goes to the next shift, to nobody yet. `by`: who answered. */
export interface ShiftException {
  readonly sort: "aside" | "asked" | "hold" | "inspection" | "late" | "offer" | "photos" | "received" | "skipped" | "station" | "tool";
  readonly answer: "carried" | "settled" | "unanswered" | "without";
  readonly of: readonly ScopeKey[];
  readonly count: number;
  readonly reason?: string;
  readonly owner?: string;
  readonly by?: string;
}

/** How far the server had a chain. */
export interface HeadNamed {
  readonly chain: Sha256;
  readonly seq: number;
  readonly hash: Sha256;
}

/** One file of a washer's log, by its SHA-256; the file is not kept. `rows` in it, `in_hours` of the shift, and `not_placed`: rows whose time cannot be read, or, in the hours, that name no scope on record. */
export interface LogRead {
  readonly file: Sha256;
  readonly rows: number;
  readonly in_hours: number;
  readonly not_placed: number;
}

/** Scopes in the logs of washers within the hours of the shift, against those looked at. `scopes` names them; `not_looked` of them have no look in the shift, `not_logged` were looked at and are in no log. A list may be shortened to fit the line; its count is whole. */
export interface ScopesLogged {
  readonly files: readonly LogRead[];
  readonly count: number;
  readonly scopes: readonly ScopeKey[];
  readonly not_looked_count: number;
  readonly not_looked: readonly ScopeKey[];
  readonly not_logged_count: number;
  readonly not_logged: readonly ScopeKey[];
}

/** Scopes received or taken for use, by the scans or as a lead counted them, against those looked at. `not_looked`: of those scanned, the ones with no look in the shift. `logged`: what logs of washers say. */
export interface ScopesCame {
  readonly count: number;
  readonly how: "counted" | "scans";
  readonly looked: number;
  readonly not_looked?: readonly ScopeKey[];
  readonly logged?: ScopesLogged;
}

/** A lead has closed the shift of `about.shift`. What this counts and names, the server found in one transaction. `begins`, `ends`: what came without a shift's name between them belongs to it. `heads`: every chain as far as it was here, the server's own up to the entry before this one. `meaning`: reviewed, or closed for a lead who is away. `note` is for the next shift. What arrives later is an addendum; it changes nothing of this. */
export interface ShiftClosed {
  readonly begins: Moment;
  readonly ends: Moment;
  readonly meaning: "for_another" | "reviewed";
  readonly counts: ShiftCounts;
  readonly came: ScopesCame;
  readonly exceptions: readonly ShiftException[];
  readonly heads: readonly HeadNamed[];
  readonly note?: string;
}

/** A lead has seen what arrived after a shift was closed: these entries belong to it. */
export interface ShiftAdded {
  readonly closing: Sha256;
  readonly entries: readonly Sha256[];
  readonly note?: string;
}

/** Bodies a station writes, by kind. */
export interface StationBodies {
  readonly "inspection.begun": InspectionBegun;
  readonly "serial.photographed": SerialPhotographed;
  readonly "part.marked": PartMarked;
  readonly "finding.recorded": FindingRecorded;
  readonly "photo.added": PhotoAdded;
  readonly "photo.marked": PhotoMarked;
  readonly "photo.restricted": PhotoRestricted;
  readonly "reading.taken": ReadingTaken;
  readonly "channel.looked": ChannelLooked;
  readonly "inspection.concluded": InspectionConcluded;
  readonly "inspection.abandoned": InspectionAbandoned;
  readonly "scope.registered": ScopeRegistered;
  readonly "scope.received": ScopeReceived;
  readonly "scope.processed": ScopeProcessed;
  readonly "tool.registered": ToolRegistered;
  readonly "tool.processed": ToolProcessed;
  readonly "scope.hung": ScopeHung;
  readonly "scope.taken": ScopeTaken;
  readonly "hold.placed": HoldPlaced;
  readonly "hold.phoned": HoldPhoned;
  readonly "work.answered": WorkAnswered;
  readonly "custody.offered": CustodyOffered;
  readonly "custody.accepted": CustodyAccepted;
  readonly "custody.declined": CustodyDeclined;
  readonly "custody.returned": CustodyReturned;
  readonly "repair.asked": RepairAsked;
  readonly "repair.decontaminated": RepairDecontaminated;
  readonly "repair.packed": RepairPacked;
  readonly "repair.shipped": RepairShipped;
  readonly "repair.noted": RepairNoted;
  readonly "repair.returned": RepairReturned;
  readonly "loaner.received": LoanerReceived;
  readonly "loaner.noted": LoanerNoted;
  readonly "loaner.sent_back": LoanerSentBack;
  readonly "entry.withdrawn": EntryWithdrawn;
  readonly "entry.corrected": EntryCorrected;
}

/** Bodies the server's own chain holds, by kind. */
export interface ServerBodies {
  readonly "aside.settled": AsideSettled;
  readonly "person.added": PersonAdded;
  readonly "person.changed": PersonChanged;
  readonly "station.enrolled": StationEnrolled;
  readonly "station.chained": StationChained;
  readonly "station.revoked": StationRevoked;
  readonly "policy.set": PolicySet;
  readonly "catalogue.set": CatalogueSet;
  readonly "frequency.set": FrequencySet;
  readonly "retention.set": RetentionSet;
  readonly "scope.described": ScopeDescribed;
  readonly "hold.decided": HoldDecided;
  readonly "hold.escalated": HoldEscalated;
  readonly "hold.advised": HoldAdvised;
  readonly "work.asked": WorkAsked;
  readonly "work.dropped": WorkDropped;
  readonly "serial.read": SerialRead;
  readonly "custody.settled": CustodySettled;
  readonly "repair.opened": RepairOpened;
  readonly "repair.approved": RepairApproved;
  readonly "repair.closed": RepairClosed;
  readonly "photo.hidden": PhotoHidden;
  readonly "photo.shown_again": PhotoShownAgain;
  readonly "photo.opened": PhotoOpened;
  readonly "photo.erasure_asked": PhotoErasureAsked;
  readonly "photo.erased": PhotoErased;
  readonly "example.chosen": ExampleChosen;
  readonly "example.withdrawn": ExampleWithdrawn;
  readonly "shift.answered": ShiftAnswered;
  readonly "shift.closed": ShiftClosed;
  readonly "shift.added": ShiftAdded;
}

export type StationKind = keyof StationBodies;
export type ServerKind = keyof ServerBodies;
export type Kind = StationKind | ServerKind;

export const STATION_KINDS: readonly StationKind[] = [
  "inspection.begun",
  "serial.photographed",
  "part.marked",
  "finding.recorded",
  "photo.added",
  "photo.marked",
  "photo.restricted",
  "reading.taken",
  "channel.looked",
  "inspection.concluded",
  "inspection.abandoned",
  "scope.registered",
  "scope.received",
  "scope.processed",
  "tool.registered",
  "tool.processed",
  "scope.hung",
  "scope.taken",
  "hold.placed",
  "hold.phoned",
  "work.answered",
  "custody.offered",
  "custody.accepted",
  "custody.declined",
  "custody.returned",
  "repair.asked",
  "repair.decontaminated",
  "repair.packed",
  "repair.shipped",
  "repair.noted",
  "repair.returned",
  "loaner.received",
  "loaner.noted",
  "loaner.sent_back",
  "entry.withdrawn",
  "entry.corrected",
];

export const SERVER_KINDS: readonly ServerKind[] = [
  "aside.settled",
  "person.added",
  "person.changed",
  "station.enrolled",
  "station.chained",
  "station.revoked",
  "policy.set",
  "catalogue.set",
  "frequency.set",
  "retention.set",
  "scope.described",
  "hold.decided",
  "hold.escalated",
  "hold.advised",
  "work.asked",
  "work.dropped",
  "serial.read",
  "custody.settled",
  "repair.opened",
  "repair.approved",
  "repair.closed",
  "photo.hidden",
  "photo.shown_again",
  "photo.opened",
  "photo.erasure_asked",
  "photo.erased",
  "example.chosen",
  "example.withdrawn",
  "shift.answered",
  "shift.closed",
  "shift.added",
];
