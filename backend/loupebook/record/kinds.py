"""The closed list of entry kinds and the shape of each body: the one source for both languages.

`loupebook schema` writes `shared/schema/*.json` and `frontend/src/record/kinds.ts` from this file.
A kind grows by optional fields only; tightening one needs a new `v`. Unknown fields are kept on the
line and ignored here. Whole numbers only, in the smallest unit named by the field (`_mm`, `_s`, `_ms`).
"""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import UNSET, Meta, Struct, UnsetType

Sha256 = Annotated[str, Meta(pattern="^[0-9a-f]{64}$")]
"""Lower-case hex of a SHA-256: the identity of an entry, a photo, a chain, a catalogue, a policy."""
Id = Annotated[str, Meta(min_length=1, max_length=64, pattern="^[a-z0-9_.-]+$")]
"""A catalogue, policy, person or place id."""
ScopeKey = Annotated[str, Meta(min_length=1, max_length=300)]
"""`udi:DI/SERIAL`, or `mms:MAKER|MODEL|SERIAL` where the scope carries no UDI."""
Text = Annotated[str, Meta(max_length=2000)]
Short = Annotated[str, Meta(max_length=200)]
Moment = Annotated[str, Meta(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}(Z|[+-]\d\d:\d\d)$")]
"""RFC 3339 with milliseconds and offset."""
Count = Annotated[int, Meta(ge=0, le=2**53 - 1)]
Whole = Annotated[int, Meta(ge=-(2**53) + 1, le=2**53 - 1)]

Point = Literal["at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance"]
First = Literal["nothing", "dry", "clean", "whole"]
Goes = Literal["on", "hold", "repair"]
Grade = Literal["present", "minor", "moderate", "severe"]
Since = Literal["new", "same", "worse", "unknown"]
Shows = Literal["serial", "part", "finding", "leak_test", "case", "other"]
Known = Literal["read_off", "estimated", "unknown"]
End = Literal["tip", "body", "port"]


class Clock(Struct, frozen=True):
    """What the station knew of its clock: `ahead_ms` against the server, and when it last asked."""

    ahead_ms: Whole
    checked_at: Moment


class Proof(Struct, frozen=True):
    """How the person was proved. `named` = chosen from the list, not proved. A ticket only when online."""

    how: Literal["pin", "badge", "sso", "named"]
    where: Literal["online", "offline"]
    ticket: Short | UnsetType = UNSET


class About(Struct, frozen=True):
    """What the entry is about. `inspection` is the hash of this chain's own `inspection.begun`."""

    scope: ScopeKey | UnsetType = UNSET
    inspection: Sha256 | UnsetType = UNSET
    repair: Sha256 | UnsetType = UNSET
    shift: Short | UnsetType = UNSET
    tool: Short | UnsetType = UNSET


class Taken(Struct, frozen=True):
    """How a photo was taken, and what was told of it then: a mark, never a bar.

    `told`: nothing in it, nothing was said against the photo. `sharp_permille`: of the sharpest this camera had shown.
    `of`: how many frames the sharpest was kept of. `at`: when, by the tablet's clock; of a file by the clock of what
    wrote it (the entry says when it was kept). `camera`: the name the camera gives itself. `tool`: what stood before
    it, as in `about.tool`. Left out: not known.
    """

    way: Literal["live", "sheet", "file"]
    told: list[Literal["not_sharp", "moved", "too_dark", "washed_out", "glare", "fogged", "soft_spot"]] = []
    sharp_permille: Annotated[int, Meta(ge=0, le=1000)] | UnsetType = UNSET
    of: Annotated[int, Meta(ge=1, le=99)] | UnsetType = UNSET
    at: Moment | UnsetType = UNSET
    camera: Short | UnsetType = UNSET
    tool: Short | UnsetType = UNSET


class Photo(Struct, frozen=True):
    """A photo named by an entry: hash of the stored bytes, their number, type, pixels, what it shows."""

    sha256: Sha256
    bytes: Annotated[int, Meta(ge=0, le=12_000_000)]
    type: Literal["image/jpeg", "image/png", "image/webp"]
    width: Annotated[int, Meta(ge=0, le=65535)]
    height: Annotated[int, Meta(ge=0, le=65535)]
    shows: Shows
    taken: Taken | UnsetType = UNSET


class Entry(Struct, frozen=True):
    """One entry as written on its line. `body` stays raw until its kind's struct reads it."""

    v: Literal[1]
    chain: Sha256
    seq: Annotated[int, Meta(ge=1, le=2**53 - 1)]
    prev: Sha256
    kind: Short
    at: Moment
    clock: Clock | None
    person: Id
    proof: Proof
    build: Short
    about: About
    body: msgspec.Raw
    photos: list[Photo]
    basis: Sha256 | UnsetType = UNSET


# ---------------------------------------------------------------- bodies written by stations


class Identified(Struct, frozen=True):
    """How the scope was named at the start. `text` is the code as read, never interpreted twice."""

    by: Literal["camera", "wedge", "typed", "list"]
    text: Text | UnsetType = UNSET
    symbology: Short | UnsetType = UNSET
    proves: Literal["scope", "tag"] = "scope"


class InspectionBegun(Struct, frozen=True):
    """A session on one scope at one point. Its hash is the inspection's id, unless it continues one."""

    point: Point
    scope_kind: Id
    catalogue: Sha256
    policy: Sha256
    shift: Short
    identified: Identified
    none_here: list[Id] = []
    not_due: list[Id] = []
    continues: Sha256 | UnsetType = UNSET
    practice: bool = False


class SerialPhotographed(Struct, frozen=True):
    """The photo of the serial number and how it was held against the scanned identity."""

    how: Literal["code", "last_four", "unreadable"]
    agrees: Literal["yes", "no", "unknown"]
    code: Text | UnsetType = UNSET
    last_four: Short | UnsetType = UNSET
    where: Short | UnsetType = UNSET


class PartMarked(Struct, frozen=True):
    """One part, or the parts of one zone, marked. A finding marks its part by itself."""

    mark: Literal["nothing_found", "could_not_look"]
    parts: Annotated[list[Id], Meta(min_length=1, max_length=60)]
    zone: Id | UnsetType = UNSET
    reason: Id | UnsetType = UNSET
    tool: Short | UnsetType = UNSET


class Place(Struct, frozen=True):
    """Where along the scope: millimetres from a named end, and how that is known."""

    mm: Count
    end: End
    known: Known


class Ring(Struct, frozen=True):
    """A ring on a photo, in ten-thousandths of the photo's width (x, r) and height (y)."""

    photo: Sha256
    x: Annotated[int, Meta(ge=0, le=10000)]
    y: Annotated[int, Meta(ge=0, le=10000)]
    r: Annotated[int, Meta(ge=1, le=10000)]


class Spot(Struct, frozen=True):
    """A point on a photo, in ten-thousandths of its width (x) and height (y)."""

    x: Annotated[int, Meta(ge=0, le=10000)]
    y: Annotated[int, Meta(ge=0, le=10000)]


class Arrow(Struct, frozen=True):
    """An arrow on a photo: from its tail to what it points at."""

    photo: Sha256
    tail: Spot
    tip: Spot


class Reference(Struct, frozen=True):
    """A thing of known size in the same photo, and the two points laid on it. What `rules/measure` scales by.

    `size_um` lies between the two points; `tolerance_um` is how far the size may be off, either way, at most.
    `what`: a ruler's marks, the insertion tube's outer or a channel's inner diameter (`channel`), another thing.
    """

    what: Literal["ruler", "tube", "channel", "other"]
    size_um: Annotated[int, Meta(ge=1, le=1_000_000)]
    tolerance_um: Annotated[int, Meta(ge=0, le=1_000_000)]
    a: Spot
    b: Spot
    channel: Id | UnsetType = UNSET


class Length(Struct, frozen=True):
    """A length on a photo of `width` x `height` pixels, with the thing of known size that it is measured against.

    `aim_px100`: each point may lie this far off, either way, along each side, in hundredths of a pixel of the photo.
    Millimetres are never written: `rules/measure` makes them, with their uncertainty, from what stands here.
    """

    photo: Sha256
    width: Annotated[int, Meta(ge=1, le=65535)]
    height: Annotated[int, Meta(ge=1, le=65535)]
    a: Spot
    b: Spot
    aim_px100: Annotated[int, Meta(ge=1, le=100_000)]
    against: Reference


class Beside(Struct, frozen=True):
    """Two photos that stood side by side on the screen before somebody said "same" or "worse".

    `size`: as small pictures beside the answer, or large. `laid`: how one lay over the other, where it did: aligned by
    the tablet, by hand, or as they are.
    """

    before: Sha256
    now: Sha256
    size: Literal["small", "large"]
    laid: Literal["by_itself", "by_hand", "as_they_are"] | UnsetType = UNSET


class FindingRecorded(Struct, frozen=True):
    """Something seen. `compared` is the earlier photo that stood beside the new one on the screen."""

    part: Id
    finding: Id
    grade: Grade
    since: Since
    place: Place | UnsetType = UNSET
    compared: Sha256 | UnsetType = UNSET
    rings: list[Ring] = []
    note: Text | UnsetType = UNSET
    arrows: list[Arrow] = []
    lengths: list[Length] = []
    beside: Beside | UnsetType = UNSET


class PhotoAdded(Struct, frozen=True):
    """A photo of a part that asks for no finding, or one more of a finding."""

    part: Id | UnsetType = UNSET
    finding: Sha256 | UnsetType = UNSET
    rings: list[Ring] = []
    place: Place | UnsetType = UNSET
    arrows: list[Arrow] = []
    lengths: list[Length] = []


class PhotoMarked(Struct, frozen=True):
    """Marks laid over a photo that is already in the record. To take them back, this entry is withdrawn."""

    photo: Sha256
    rings: list[Ring] = []
    arrows: list[Arrow] = []
    lengths: list[Length] = []


class PhotoRestricted(Struct, frozen=True):
    """The photo may show a person or patient data: hidden at once. Only a lead's `photo.shown_again` ends it."""

    photo: Sha256


class ReadingTaken(Struct, frozen=True):
    """What a test or a function tried showed, or a measured value in thousandths of its UCUM unit.

    `what`: leak_test (held, bubbles, pressure_dropped, could_not_test), leakage_current (within_limit, over_limit,
    could_not_test), a check of the catalogue (works, weak, does_not_work, not_checked), or what was measured (value).
    `limit_thousandths`: the highest value that passes as the maker of the test states it for this test. With
    `pressure_pa`, `unit` is the one its tester showed (`rules/units.py`).
    """

    what: Id
    result: Literal[
        "held", "bubbles", "pressure_dropped", "could_not_test", "value", "within_limit", "over_limit",
        "works", "weak", "does_not_work", "not_checked",
    ]  # fmt: skip
    steps: list[Id] = []
    parts: list[Id] = []
    zone: Id | UnsetType = UNSET
    reason: Id | UnsetType = UNSET
    pressure_pa: Count | UnsetType = UNSET
    held_s: Count | UnsetType = UNSET
    value_thousandths: Whole | UnsetType = UNSET
    limit_thousandths: Count | UnsetType = UNSET
    unit: Short | UnsetType = UNSET
    meter: Short | UnsetType = UNSET
    lot: Short | UnsetType = UNSET
    note: Text | UnsetType = UNSET


class ChannelLooked(Struct, frozen=True):
    """One run through a channel, or its flow where no borescope goes.

    `borescope` is the tool's id, as in `about.tool` of its own entries. A channel whose flow alone was tried is
    `not_possible`: nobody saw its inside, whatever the flow showed. `length_mm` is the channel's own length as the
    scope's record gave it then: runs from both ends that reach it together are a look through (`rules/runs.py`).
    """

    channel: Id
    outcome: Literal["through", "blocked", "not_possible"]
    way: Literal["from_port", "from_tip"] | UnsetType = UNSET
    borescope: Short | UnsetType = UNSET
    reached_mm: Count | UnsetType = UNSET
    length_mm: Count | UnsetType = UNSET
    known: Known | UnsetType = UNSET
    flow: Literal["free", "weak", "blocked", "not_done"] | UnsetType = UNSET
    reason: Id | UnsetType = UNSET


class Left(Struct, frozen=True):
    """A part not looked at when the inspection ended early, and why."""

    part: Id
    reason: Id


class Counts(Struct, frozen=True):
    """The six marks; they add up to the parts and channels of the route. Out of use is within `finding`."""

    not_looked: Count
    nothing_found: Count
    finding: Count
    could_not_look: Count
    not_due: Count
    none_here: Count


class InspectionConcluded(Struct, frozen=True):
    """The decision in two answers beside what the policy suggested, and what it relies on from other chains."""

    first: First
    goes: Goes
    suggested_first: First
    suggested_goes: Goes
    rows: list[Id]
    counts: Counts
    relies: list[Sha256] = []
    elsewhere: list[Id] = []
    left: list[Left] = []
    tag_on: bool | UnsetType = UNSET
    disinfection: Sha256 | UnsetType = UNSET
    """Before use: the `scope.processed` this decision leans on; left out = not in this record."""
    words: Annotated[str, Meta(min_length=1, max_length=2000)] | UnsetType = UNSET
    """At acceptance: why it goes back to repair, in the words of who looked."""


class InspectionAbandoned(Struct, frozen=True):
    """Ended without a result."""

    reason: Id
    note: Text | UnsetType = UNSET


class ScopeRegistered(Struct, frozen=True):
    """A scope met on the spot, without a record yet. `about.scope` carries its key."""

    scope_kind: Id
    serial: Short
    di: Short | UnsetType = UNSET
    maker: Short | UnsetType = UNSET
    model: Short | UnsetType = UNSET
    tag: Short | UnsetType = UNSET
    codes: list[Text] = []


class ScopeReceived(Struct, frozen=True):
    """A used scope has come. With `of` nothing is received anew: what was left out is said of that receipt."""

    place: Short
    procedure_end: Moment | UnsetType = UNSET
    pre_clean: Literal["yes", "no", "unknown"] = "unknown"
    cleaning_begun: Moment | UnsetType = UNSET
    of: Sha256 | UnsetType = UNSET


class ScopeProcessed(Struct, frozen=True):
    """A machine's cycle has ended with this scope in it. Nothing here says that it succeeded."""

    place: Short
    machine: Short | UnsetType = UNSET
    cycle: Short | UnsetType = UNSET


class ToolRegistered(Struct, frozen=True):
    """A tool met at the sink: what it is and its sizes, from its maker's instructions. `about.tool` carries its id.

    The newest of an id stands. A width in micrometres, a length in millimetres; what is not known is left out.
    """

    what: Literal["borescope"]
    place: Short
    width_um: Count | UnsetType = UNSET
    length_mm: Count | UnsetType = UNSET
    codes: list[Text] = []


class ToolProcessed(Struct, frozen=True):
    """The tool was cleaned and disinfected after use, as its own instructions say. `about.tool` carries its id."""

    place: Short


class ScopeHung(Struct, frozen=True):
    """The scope hangs at this place: a cabinet, a shelf."""

    place: Short


class ScopeTaken(Struct, frozen=True):
    """The scope was taken out of where it hung; `place` is where it goes."""

    place: Short


class HoldPlaced(Struct, frozen=True):
    """The scope must wait for a lead. `tag_on` false = no tag was at hand; the hold stands all the same."""

    reason: Id
    tag_on: bool
    note: Text | UnsetType = UNSET


class Party(Struct, frozen=True):
    """Who takes a scope: a person of the house by id, a place of the house, or somebody outside by name, as said.

    Somebody outside needs no account: `firm` and the `waybill` number are as read off their papers.
    """

    kind: Literal["person", "place", "outside"]
    name: Short
    firm: Short | UnsetType = UNSET
    waybill: Short | UnsetType = UNSET


class CustodyOffered(Struct, frozen=True):
    """The person who writes this holds the scope out. `to` left out: to whoever takes it. `basis` is what was known."""

    place: Short
    to: Party | UnsetType = UNSET
    note: Text | UnsetType = UNSET


class OfferShown(Struct, frozen=True):
    """An offer as its giver's screen showed it to a tablet that did not know it. The `basis` of the entry is its hash.

    `chain` and `seq` say where it stands, `at_ms` when (ms UTC); `on` is its own basis, left out where it had none;
    `to` the person it was meant for, left out where it was whoever takes it.
    """

    chain: Sha256
    seq: Annotated[int, Meta(ge=1, le=2**53 - 1)]
    giver: Id
    at_ms: Count
    to: Id | UnsetType = UNSET
    on: Sha256 | UnsetType = UNSET


class CustodyAccepted(Struct, frozen=True):
    """Taken; `basis` is the offer. The taker's own badge or PIN stands in `person` and `proof`.

    Somebody outside has none: then the giver writes it, and a photo shows the case in their hands or their signature.
    """

    place: Short
    holder: Party
    offer: OfferShown | UnsetType = UNSET


class CustodyDeclined(Struct, frozen=True):
    """Not taken, and why; `basis` is the offer. The scope stays with the giver."""

    reason: Id
    note: Text | UnsetType = UNSET
    offer: OfferShown | UnsetType = UNSET


class CustodyReturned(Struct, frozen=True):
    """Back from somebody outside, in the hands of the person who writes this. `by` says who brought it."""

    place: Short
    by: Party | UnsetType = UNSET


class ByPhone(Struct, frozen=True):
    """A lead's word by phone, as who heard it writes it down: whose, and when. A lead confirms it at the desk later."""

    who: Id
    at: Moment


class HoldPhoned(Struct, frozen=True):
    """A lead's word by phone on a hold, as who heard it writes it down. The hold stands until a lead confirms it.

    Repair by phone is `repair.asked` with `phone`.
    """

    hold: Sha256
    goes: Literal["on", "hold"]
    first: First
    words: Annotated[str, Meta(min_length=1, max_length=2000)]
    phone: ByPhone


class WorkAnswered(Struct, frozen=True):
    """Whoever was asked says themself what came of it; nobody writes it for them. Needs `about.scope`.

    seen: of a second opinion, what they saw in the photos: `finding` and `grade`, or neither where they saw nothing.
    """

    asked: Sha256
    did: Literal["done", "seen", "not_done"]
    finding: Id | UnsetType = UNSET
    grade: Grade | UnsetType = UNSET
    words: Text | UnsetType = UNSET


class RepairAsked(Struct, frozen=True):
    """Somebody asks for a repair, in their own words. `inspections` names begun entries whose findings go along.

    With `phone` a lead has opened it by phone: it may be packed and handed over at once, and waits to be confirmed.
    """

    words: Annotated[str, Meta(min_length=1, max_length=2000)]
    inspections: Annotated[list[Sha256], Meta(max_length=20)] = []
    phone: ByPhone | UnsetType = UNSET


Day = Annotated[str, Meta(pattern=r"^\d{4}-\d\d-\d\d$")]
"""A day, YYYY-MM-DD."""

Decontamination = Literal["wiped", "flushed", "cleaned", "disinfected", "sterilized"]


class DecontaminationDone(Struct, frozen=True):
    """One step that was done, and how: agent, method, machine and cycle, as the instructions for use name them."""

    what: Decontamination
    how: Short | UnsetType = UNSET


class DecontaminationLeft(Struct, frozen=True):
    """One step that could not be done, and why."""

    what: Decontamination
    reason: Id


class RepairDecontaminated(Struct, frozen=True):
    """What was done to a scope before it goes out, when, by whom; what was not, and what stays contaminated.

    `contaminated`: parts and channels of the catalogue, or `inside` (the whole inside and all channels). An empty list
    says that none is known to stay contaminated. `label_on`: the label with these words is on it.
    Source: 29 CFR 1910.1030(d)(2)(xiv): a label stating which portions remain contaminated.
    """

    done: Annotated[list[DecontaminationDone], Meta(max_length=10)]
    not_done: Annotated[list[DecontaminationLeft], Meta(max_length=10)]
    processed_by: Id
    processed_at: Moment
    contaminated: Annotated[list[Id], Meta(max_length=80)]
    label_on: bool
    note: Text | UnsetType = UNSET


class Accessory(Struct, frozen=True):
    """What lies in the case beside the scope, counted."""

    what: Short
    count: Annotated[int, Meta(ge=1, le=999)]


class RepairPacked(Struct, frozen=True):
    """The case is packed; a photo shows it. Whom to call and where it comes back to are as the paper in it says.

    No accessory means that none lies in it. `order`, `warranty`: their numbers. `last_used`: the day alone.
    """

    accessories: Annotated[list[Accessory], Meta(max_length=40)]
    contact: Short
    return_address: Text
    order: Short | UnsetType = UNSET
    warranty: Short | UnsetType = UNSET
    last_used: Day | UnsetType = UNSET
    expected_back: Day | UnsetType = UNSET


class RepairShipped(Struct, frozen=True):
    """It left: with whom, under which number, to whom, and the day it is expected back. A newer one names it.

    `loaner`: the key of the scope that stands in for it.
    """

    carrier: Short
    number: Short | UnsetType = UNSET
    to: Short | UnsetType = UNSET
    expected_back: Day | UnsetType = UNSET
    loaner: Short | UnsetType = UNSET


class RepairNoted(Struct, frozen=True):
    """What the repairer says of it, in words. `estimate`: it asks for a lead's answer. A price is nobody's duty.

    `price_minor` counts the smallest unit of `currency` (ISO 4217).
    """

    words: Annotated[str, Meta(min_length=1, max_length=2000)]
    estimate: bool = False
    price_minor: Annotated[int, Meta(ge=0, le=10**9)] | UnsetType = UNSET
    currency: Annotated[str, Meta(pattern="^[A-Z]{3}$")] | UnsetType = UNSET
    expected_back: Day | UnsetType = UNSET


class RepairReturned(Struct, frozen=True):
    """It is here again; a photo shows its serial number. `over` are the steps of the trip that this ends.

    `serial`: whether the number read off is the one on record; `read` what it is where it differs. `papers`: the
    repairer's papers came with it. `swapped`: parts that are not those that left, in words.
    """

    place: Short
    serial: Literal["yes", "no", "unreadable"]
    papers: bool
    accessories: Annotated[list[Accessory], Meta(max_length=40)]
    over: Annotated[list[Sha256], Meta(max_length=60)]
    read: Short | UnsetType = UNSET
    swapped: Annotated[list[Short], Meta(max_length=20)] = []
    note: Text | UnsetType = UNSET


class LoanerReceived(Struct, frozen=True):
    """A scope came on loan; a photo shows its serial number. `owner`: whose it is. `stands_for`: the scope it replaces.

    `instructions`: its instructions for use are at hand. `fits`: connectors and brushes fit it, as somebody tried.
    """

    place: Short
    owner: Short
    instructions: bool
    fits: Literal["yes", "no", "not_tried"]
    accessories: Annotated[list[Accessory], Meta(max_length=40)]
    until: Day | UnsetType = UNSET
    stands_for: Short | UnsetType = UNSET
    note: Text | UnsetType = UNSET


class LoanerNoted(Struct, frozen=True):
    """What is known of a loan since it came: its `basis` is the word of its coming. What is left out stays as it was.

    `stands_for`: the key of the scope it stands in for, '' for none any more.
    """

    instructions: bool | UnsetType = UNSET
    fits: Literal["yes", "no", "not_tried"] | UnsetType = UNSET
    until: Day | UnsetType = UNSET
    stands_for: Annotated[str, Meta(max_length=300)] | UnsetType = UNSET
    note: Text | UnsetType = UNSET


class LoanerSentBack(Struct, frozen=True):
    """A scope on loan left; one photo shows its serial number, one how it left. `over`: the words of its coming.

    `processing`: the entry of the processing that came last; left out, none is on record since it was last used, and
    `unprocessed` says why it left all the same.
    """

    place: Short
    carrier: Short
    accessories: Annotated[list[Accessory], Meta(max_length=40)]
    over: Annotated[list[Sha256], Meta(min_length=1, max_length=20)]
    number: Short | UnsetType = UNSET
    processing: Sha256 | UnsetType = UNSET
    unprocessed: Id | UnsetType = UNSET
    note: Text | UnsetType = UNSET


class EntryWithdrawn(Struct, frozen=True):
    """Takes back an entry of the same chain: undo, or a later second thought."""

    entry: Sha256
    reason: Id = "undo"


class EntryCorrected(Struct, frozen=True):
    """Replaces the whole body of `entry`; `builds_on` is the version the author had before them."""

    entry: Sha256
    builds_on: Sha256
    body: msgspec.Raw
    reason: Id | UnsetType = UNSET


# ---------------------------------------------------------------- bodies written by the server's chain


class AsideSettled(Struct, frozen=True):
    entry: Sha256
    outcome: Literal["count", "leave_out"]
    reason: Text


class PersonAdded(Struct, frozen=True):
    person: Id
    roles: list[Literal["technician", "runner", "lead", "deputy", "auditor"]]


class PersonChanged(Struct, frozen=True):
    """What a person may do from now on. `by`: nothing of that changed, a code opens their sign-in.

    recovery_code: the one they had on paper was used. server_machine: a new one was made at the server itself.
    """

    person: Id
    roles: list[Literal["technician", "runner", "lead", "deputy", "auditor"]]
    active: bool
    by: Literal["recovery_code", "server_machine"] | UnsetType = UNSET
    station: Id | UnsetType = UNSET


class StationEnrolled(Struct, frozen=True):
    station: Id
    chain: Sha256
    name: Short
    place: Short
    side: Literal["dirty", "clean", "both"]
    points: list[Point]


class StationChained(Struct, frozen=True):
    """A station went on in a new chain. What it last had of the old one is named, and why it ended."""

    station: Id
    chain: Sha256
    old_chain: Sha256
    old_seq: Count
    old_hash: Sha256 | UnsetType = UNSET
    why: Literal["wiped", "forked", "server_ahead", "rolled_back", "cloned", "refused"] = "wiped"


class StationRevoked(Struct, frozen=True):
    station: Id
    reason: Text


class PolicySet(Struct, frozen=True):
    sha256: Sha256
    reason: Text


class CatalogueSet(Struct, frozen=True):
    sha256: Sha256
    reason: Text


class FrequencySet(Struct, frozen=True):
    sha256: Sha256
    reason: Text


class RetentionSet(Struct, frozen=True):
    """How long this facility means to keep its record, in years; left out: without end. Nothing is deleted by it."""

    reason: Annotated[str, Meta(min_length=1, max_length=2000)]
    years: Annotated[int, Meta(ge=1, le=200)] | UnsetType = UNSET


class ChannelSize(Struct, frozen=True):
    """One channel of one scope, from its own instructions: inner diameter in µm, length port to outlet in mm.

    `length_mm` is the channel's own, never the working length. `reach` stands for this scope in place of the
    catalogue's word: a borescope goes in, only its flow can be tried, or neither.
    """

    channel: Id
    inner_um: Count | UnsetType = UNSET
    length_mm: Count | UnsetType = UNSET
    reach: Literal["borescope", "flow", "none"] | UnsetType = UNSET


class Instructions(Struct, frozen=True):
    """Which instructions the sizes were read from: title or number, edition, and their date (YYYY-MM-DD)."""

    title: Short
    edition: Short | UnsetType = UNSET
    dated: Annotated[str, Meta(pattern=r"^\d{4}-\d\d-\d\d$")] | UnsetType = UNSET


class ScopeDescribed(Struct, frozen=True):
    """What the facility records of a scope: sizes from its own instructions, what it has none of.

    Each description is whole: it stands in the place of the one before. `tube_mm` is the working length, `tube_um` the
    insertion tube's outer diameter.
    """

    scope_kind: Id
    serial: Short
    di: Short | UnsetType = UNSET
    maker: Short | UnsetType = UNSET
    model: Short | UnsetType = UNSET
    tag: Short | UnsetType = UNSET
    codes: list[Text] = []
    none_here: list[Id] = []
    tube_mm: Count | UnsetType = UNSET
    serial_where: Short | UnsetType = UNSET
    channels: list[ChannelSize] = []
    instructions: Instructions | UnsetType = UNSET
    tube_um: Count | UnsetType = UNSET


class HoldDecided(Struct, frozen=True):
    """A lead decides a hold. `over` names the words by phone that this confirms, or decides otherwise."""

    hold: Sha256
    goes: Goes
    first: First
    reason: Text
    over: Annotated[list[Sha256], Meta(max_length=60)] = []


Office = Literal["infection_prevention", "biomed", "risk"]


class HoldEscalated(Struct, frozen=True):
    """A lead brings a hold before those who must hear of it, with a question or a plain word. Needs `about.scope`."""

    hold: Sha256
    to: Annotated[list[Office], Meta(min_length=1, max_length=3)]
    words: Annotated[str, Meta(min_length=1, max_length=2000)]


class HoldAdvised(Struct, frozen=True):
    """What came back of it, as a lead writes it down: `by` says who, by name or office; they need no account here."""

    hold: Sha256
    over: Annotated[list[Sha256], Meta(min_length=1, max_length=20)]
    by: Annotated[str, Meta(min_length=1, max_length=200)]
    words: Annotated[str, Meta(min_length=1, max_length=2000)]


class FirstSaid(Struct, frozen=True):
    """A finding as it stood when a second opinion was asked for."""

    finding: Id
    grade: Grade


class WorkAsked(Struct, frozen=True):
    """A lead asks somebody to do a thing themself. Left out `to`: whoever comes to it first. Needs `about.scope`.

    look_again: the parts are looked at again. correct: an entry of their own (`of`). second_opinion: what the photos
    show, without having seen what was said of them first (`of` is that finding, or the mark of a part where nothing was
    found); `not_by` said it, and may not answer. `first`: what stood of that part then, nothing in it = nothing found;
    no tablet is told. `drawn`: the server asked by chance, because of this `inspection.concluded`.
    """

    what: Literal["look_again", "correct", "second_opinion"]
    of: Sha256
    reason: Annotated[str, Meta(min_length=1, max_length=2000)]
    to: Id | UnsetType = UNSET
    parts: Annotated[list[Id], Meta(max_length=80)] = []
    photos: Annotated[list[Sha256], Meta(max_length=40)] = []
    not_by: Annotated[list[Id], Meta(max_length=20)] = []
    first: Annotated[list[FirstSaid], Meta(max_length=60)] | UnsetType = UNSET
    drawn: Sha256 | UnsetType = UNSET


class WorkDropped(Struct, frozen=True):
    """It is asked for no more, and why."""

    asked: Sha256
    reason: Annotated[str, Meta(min_length=1, max_length=2000)]


class CustodySettled(Struct, frozen=True):
    """A lead says who has a scope, over the entries that say different things of it. Needs `about.scope`."""

    over: Annotated[list[Sha256], Meta(min_length=1, max_length=60)]
    holder: Party
    reason: Text


class RepairOpened(Struct, frozen=True):
    """A lead opens a repair, or confirms what was asked or said by phone: `over` names those. Needs `about.scope`."""

    reason: Annotated[str, Meta(min_length=1, max_length=2000)]
    over: Annotated[list[Sha256], Meta(max_length=60)] = []
    inspections: Annotated[list[Sha256], Meta(max_length=20)] = []


class RepairClosed(Struct, frozen=True):
    """A lead ends a repair. `over` names all that asked for it or opened it; what comes later asks anew."""

    over: Annotated[list[Sha256], Meta(min_length=1, max_length=60)]
    outcome: Literal["not_needed", "wrong_scope", "done", "replaced"]
    reason: Annotated[str, Meta(min_length=1, max_length=2000)]


class RepairApproved(Struct, frozen=True):
    """A lead answers an estimate: `over` names the repairer's words it is about. Needs `about.scope`."""

    over: Annotated[list[Sha256], Meta(min_length=1, max_length=60)]
    approved: bool
    reason: Annotated[str, Meta(min_length=1, max_length=2000)]


class SerialRead(Struct, frozen=True):
    """The server read another number in the serial photo of an inspection part than that of the scope named there.

    Written only where a code with a good check digit contradicts. `person` is `server`: no person acts here.
    """

    photo: Sha256
    begun: Sha256
    code: Text
    agrees: Literal["no"]


class PhotoHidden(Struct, frozen=True):
    """As `photo.restricted`, by a lead at the desk."""

    photo: Sha256


class PhotoShownAgain(Struct, frozen=True):
    """A lead looked: it shows no person. `hidden` names the entries this ends; one that comes later hides it anew."""

    photo: Sha256
    hidden: Annotated[list[Sha256], Meta(min_length=1, max_length=60)]
    reason: Text


class PhotoOpened(Struct, frozen=True):
    """A lead asked to see a hidden photo, and why. Its bytes are given to this person alone, for ten minutes."""

    photo: Sha256
    reason: Text


class PhotoErasureAsked(Struct, frozen=True):
    """A lead asks for a hidden photo to be erased, and why. Nothing is erased until a second lead agrees."""

    photo: Sha256
    reason: Text


class PhotoErased(Struct, frozen=True):
    """A second lead agreed: the bytes of the photo, and every picture made of them, leave this server and all tablets.

    `asked` is the entry of the lead who asked. The entries that name the photo, its hash and its length stay.
    """

    photo: Sha256
    asked: Sha256


class ExampleChosen(Struct, frozen=True):
    """A photo of the record stands as this facility's own example of a finding and grade, beside the grade buttons."""

    photo: Sha256
    finding: Id
    grade: Grade
    note: Short | UnsetType = UNSET


class ExampleWithdrawn(Struct, frozen=True):
    """The example is shown no more. `example` is the entry that chose it."""

    example: Sha256
    reason: Text


Sort = Literal[
    "inspection", "photos", "aside", "hold", "offer", "tool", "station", "skipped", "received", "late", "asked"
]  # fmt: skip
"""What can stand open in a shift, and what `of` then is. inspection: not concluded (its root). photos: of an
inspection, not here yet (its root). aside: an entry put aside (its hash). hold: not decided (its hash). offer: of a
scope that nobody has taken, or who has it is disputed (its key). tool: owes processing (its id). station: not heard
from (its id). skipped: a look or a test that was due and is not in an inspection that ended (its root). received: a
scope that came and was not looked at (its key). late: entries that came after a shift was closed (its closing).
asked: what somebody was asked to do and did not say anything of yet (the entry that asks)."""
OfRow = Annotated[str, Meta(min_length=1, max_length=300)]


class ShiftAnswered(Struct, frozen=True):
    """A lead's answer to one thing that stands open in the shift of `about.shift`; the newest counts.

    without: the shift is closed without it, and why. carried: to the next shift, to somebody. open: neither, again.
    """

    sort: Sort
    of: OfRow
    answer: Literal["without", "carried", "open"]
    reason: Short | UnsetType = UNSET
    owner: Id | UnsetType = UNSET


class ShiftCounts(Struct, frozen=True):
    """A shift in numbers, without practice. `inspections` are `not_concluded`, `abandoned`, and the concluded ones.

    Those are `nothing_found`, `with_finding`, and `out_of_use` (a finding that takes a scope out of use, or a failed
    test); and again by what is done first, and by where it goes. `parts`: the six marks of all of them. `findings`
    and `photos` are single ones; `photos_waiting` of those are not here yet. `holds`: that stand at the place.
    """

    inspections: Count
    not_concluded: Count
    abandoned: Count
    nothing_found: Count
    with_finding: Count
    out_of_use: Count
    first_nothing: Count
    first_dry: Count
    first_clean: Count
    first_whole: Count
    goes_on: Count
    goes_hold: Count
    goes_repair: Count
    parts: Counts
    findings: Count
    photos: Count
    photos_waiting: Count
    holds: Count
    aside: Count
    scopes: Count


class ShiftException(Struct, frozen=True):
    """Things of one sort that stood open and were answered alike. `of` names them, `count` says how many they are.

    settled: answered or carried here, and settled by itself since. unanswered: goes to the next shift, to nobody yet.
    `by`: who answered.
    """

    sort: Sort
    answer: Literal["settled", "without", "carried", "unanswered"]
    of: list[OfRow]
    count: Count
    reason: Short | UnsetType = UNSET
    owner: Id | UnsetType = UNSET
    by: Id | UnsetType = UNSET


class HeadNamed(Struct, frozen=True):
    """How far the server had a chain."""

    chain: Sha256
    seq: Count
    hash: Sha256


class LogRead(Struct, frozen=True):
    """One file of a washer's log, by its SHA-256; the file is not kept. `rows` in it, `in_hours` of the shift, and
    `not_placed`: rows whose time cannot be read, or, in the hours, that name no scope on record."""

    file: Sha256
    rows: Count
    in_hours: Count
    not_placed: Count


class ScopesLogged(Struct, frozen=True):
    """Scopes in the logs of washers within the hours of the shift, against those looked at.

    `scopes` names them; `not_looked` of them have no look in the shift, `not_logged` were looked at and are in no log.
    A list may be shortened to fit the line; its count is whole.
    """

    files: Annotated[list[LogRead], Meta(min_length=1, max_length=8)]
    count: Count
    scopes: list[ScopeKey]
    not_looked_count: Count
    not_looked: list[ScopeKey]
    not_logged_count: Count
    not_logged: list[ScopeKey]


class ScopesCame(Struct, frozen=True):
    """Scopes received or taken for use, by the scans or as a lead counted them, against those looked at.

    `not_looked`: of those scanned, the ones with no look in the shift. `logged`: what logs of washers say.
    """

    count: Count
    how: Literal["scans", "counted"]
    looked: Count
    not_looked: list[ScopeKey] = []
    logged: ScopesLogged | UnsetType = UNSET


class ShiftClosed(Struct, frozen=True):
    """A lead has closed the shift of `about.shift`. What this counts and names, the server found in one transaction.

    `begins`, `ends`: what came without a shift's name between them belongs to it. `heads`: every chain as far as it
    was here, the server's own up to the entry before this one. `meaning`: reviewed, or closed for a lead who is away.
    `note` is for the next shift. What arrives later is an addendum; it changes nothing of this.
    """

    begins: Moment
    ends: Moment
    meaning: Literal["reviewed", "for_another"]
    counts: ShiftCounts
    came: ScopesCame
    exceptions: list[ShiftException]
    heads: list[HeadNamed]
    note: Text | UnsetType = UNSET


class ShiftAdded(Struct, frozen=True):
    """A lead has seen what arrived after a shift was closed: these entries belong to it."""

    closing: Sha256
    entries: Annotated[list[Sha256], Meta(min_length=1, max_length=500)]
    note: Text | UnsetType = UNSET


STATION_KINDS: dict[str, type[Struct]] = {
    "inspection.begun": InspectionBegun,
    "serial.photographed": SerialPhotographed,
    "part.marked": PartMarked,
    "finding.recorded": FindingRecorded,
    "photo.added": PhotoAdded,
    "photo.marked": PhotoMarked,
    "photo.restricted": PhotoRestricted,
    "reading.taken": ReadingTaken,
    "channel.looked": ChannelLooked,
    "inspection.concluded": InspectionConcluded,
    "inspection.abandoned": InspectionAbandoned,
    "scope.registered": ScopeRegistered,
    "scope.received": ScopeReceived,
    "scope.processed": ScopeProcessed,
    "tool.registered": ToolRegistered,
    "tool.processed": ToolProcessed,
    "scope.hung": ScopeHung,
    "scope.taken": ScopeTaken,
    "hold.placed": HoldPlaced,
    "hold.phoned": HoldPhoned,
    "work.answered": WorkAnswered,
    "custody.offered": CustodyOffered,
    "custody.accepted": CustodyAccepted,
    "custody.declined": CustodyDeclined,
    "custody.returned": CustodyReturned,
    "repair.asked": RepairAsked,
    "repair.decontaminated": RepairDecontaminated,
    "repair.packed": RepairPacked,
    "repair.shipped": RepairShipped,
    "repair.noted": RepairNoted,
    "repair.returned": RepairReturned,
    "loaner.received": LoanerReceived,
    "loaner.noted": LoanerNoted,
    "loaner.sent_back": LoanerSentBack,
    "entry.withdrawn": EntryWithdrawn,
    "entry.corrected": EntryCorrected,
}
SERVER_KINDS: dict[str, type[Struct]] = {
    "aside.settled": AsideSettled,
    "person.added": PersonAdded,
    "person.changed": PersonChanged,
    "station.enrolled": StationEnrolled,
    "station.chained": StationChained,
    "station.revoked": StationRevoked,
    "policy.set": PolicySet,
    "catalogue.set": CatalogueSet,
    "frequency.set": FrequencySet,
    "retention.set": RetentionSet,
    "scope.described": ScopeDescribed,
    "hold.decided": HoldDecided,
    "hold.escalated": HoldEscalated,
    "hold.advised": HoldAdvised,
    "work.asked": WorkAsked,
    "work.dropped": WorkDropped,
    "serial.read": SerialRead,
    "custody.settled": CustodySettled,
    "repair.opened": RepairOpened,
    "repair.approved": RepairApproved,
    "repair.closed": RepairClosed,
    "photo.hidden": PhotoHidden,
    "photo.shown_again": PhotoShownAgain,
    "photo.opened": PhotoOpened,
    "photo.erasure_asked": PhotoErasureAsked,
    "photo.erased": PhotoErased,
    "example.chosen": ExampleChosen,
    "example.withdrawn": ExampleWithdrawn,
    "shift.answered": ShiftAnswered,
    "shift.closed": ShiftClosed,
    "shift.added": ShiftAdded,
}
KINDS: dict[str, type[Struct]] = STATION_KINDS | SERVER_KINDS
