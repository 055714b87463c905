"""Inspection entries as rows. Each fold writes what its own entry says; nothing here reads or adds up."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

import msgspec
from msgspec import Struct

from loupebook.inspections.photo_fold import PHOTO_FOLDS
from loupebook.inspections.strict import stricter_goes
from loupebook.inspections.tables import (
    ADD_ENDING,
    ADD_FINDING,
    ADD_LAID,
    ADD_MARK,
    ADD_PART,
    ADD_PHOTO,
    ADD_READING,
    ADD_RUN,
    ADD_SERIAL,
    ADD_SERIAL_READING,
    CORRECT_ENDING,
    CORRECT_FINDING,
    CORRECT_LAID,
    CORRECT_MARK,
    CORRECT_PART,
    CORRECT_READING,
    CORRECT_RUN,
    CORRECT_SERIAL,
    SETTLE_PART,
)
from loupebook.log.port import Change, Counted, Fold, Statement, Value
from loupebook.record.kinds import (
    Arrow,
    Beside,
    ChannelLooked,
    EntryCorrected,
    FindingRecorded,
    InspectionAbandoned,
    InspectionBegun,
    InspectionConcluded,
    Length,
    PartMarked,
    PhotoAdded,
    PhotoMarked,
    Place,
    ReadingTaken,
    Ring,
    SerialPhotographed,
    SerialRead,
    Taken,
)
from loupebook.scopes.tables import ADD_HOLD, CORRECT_HOLD, SEE
from loupebook.scopes.tables.values import begun_of, given, in_turn, listed, place_of, scope_of, when_ms

Row = dict[str, Value]


def _laid_text(marks: Iterable[Ring | Arrow | Length]) -> str:
    return msgspec.json.encode(list(marks)).decode()


# ---------------------------------------------------------------- what a body says, one row each


def _part(body: InspectionBegun) -> list[Row]:
    seen = body.identified
    return [
        {
            "root": given(body.continues),
            "point": body.point,
            "scope_kind": body.scope_kind,
            "catalogue": body.catalogue,
            "policy": body.policy,
            "shift": body.shift,
            "place": place_of(body.shift),
            "identified_by": seen.by,
            "identified_text": given(seen.text),
            "symbology": given(seen.symbology),
            "proves": seen.proves,
            "none_here": listed(body.none_here),
            "not_due": listed(body.not_due),
            "practice": int(body.practice),
            "is_open": 1,
        }
    ]


def _serial(body: SerialPhotographed) -> list[Row]:
    return [
        {
            "held_by": body.how,
            "agrees": body.agrees,
            "code": given(body.code),
            "last_four": given(body.last_four),
            "serial_where": given(body.where),
        }
    ]


def _marks(body: PartMarked) -> list[Row]:
    about: Row = {
        "mark": body.mark,
        "zone": given(body.zone),
        "reason": given(body.reason),
        "tool": given(body.tool),
    }
    return [about | {"part": part} for part in dict.fromkeys(body.parts)]


def _where(body: Struct) -> Row:
    """Where along the scope a finding or a photo is."""
    place = body.place if isinstance(body, FindingRecorded | PhotoAdded) and isinstance(body.place, Place) else None
    return {
        "place_mm": place.mm if place else None,
        "place_end": place.end if place else None,
        "place_known": place.known if place else None,
    }


def _finding(body: FindingRecorded) -> list[Row]:
    return [
        _where(body)
        | {
            "part": body.part,
            "finding": body.finding,
            "grade": body.grade,
            "since": body.since,
            "compared": given(body.compared),
            "beside": msgspec.json.encode(body.beside).decode() if isinstance(body.beside, Beside) else None,
            "rings": _laid_text(body.rings),
            "note": given(body.note),
        }
    ]


def _laid(body: FindingRecorded | PhotoAdded | PhotoMarked) -> list[Row]:
    """One row a photo that something is laid over."""
    marks: list[Ring | Arrow | Length] = [*body.rings, *body.arrows, *body.lengths]
    return [
        {
            "photo": photo,
            "rings": _laid_text(each for each in body.rings if each.photo == photo),
            "arrows": _laid_text(each for each in body.arrows if each.photo == photo),
            "lengths": _laid_text(each for each in body.lengths if each.photo == photo),
        }
        for photo in dict.fromkeys(each.photo for each in marks)
    ]


def _reading(body: ReadingTaken) -> list[Row]:
    return [
        {
            "what": body.what,
            "result": body.result,
            "steps": listed(body.steps),
            "parts": listed(body.parts),
            "zone": given(body.zone),
            "reason": given(body.reason),
            "pressure_pa": given(body.pressure_pa),
            "held_s": given(body.held_s),
            "value_thousandths": given(body.value_thousandths),
            "limit_thousandths": given(body.limit_thousandths),
            "unit": given(body.unit),
            "meter": given(body.meter),
            "lot": given(body.lot),
            "note": given(body.note),
        }
    ]


def _run(body: ChannelLooked) -> list[Row]:
    return [
        {
            "channel": body.channel,
            "outcome": body.outcome,
            "way": given(body.way),
            "borescope": given(body.borescope),
            "reached_mm": given(body.reached_mm),
            "length_mm": given(body.length_mm),
            "known": given(body.known),
            "flow": given(body.flow),
            "reason": given(body.reason),
        }
    ]


def _run_mark(body: ChannelLooked) -> list[Row]:
    """A channel run through is looked at; one that was not is a channel nobody could look into."""
    mark = "nothing_found" if body.outcome == "through" else "could_not_look"
    reason = given(body.reason)
    return [{"part": body.channel, "mark": mark, "zone": None, "reason": reason, "tool": given(body.borescope)}]


def _concluded(body: InspectionConcluded) -> list[Row]:
    return [
        {
            "ended": "concluded",
            "first": body.first,
            "goes": body.goes,
            "suggested_first": body.suggested_first,
            "suggested_goes": body.suggested_goes,
            "rows": listed(body.rows),
            "counts": msgspec.json.encode(body.counts).decode(),
            "relies": listed(body.relies),
            "elsewhere": listed(body.elsewhere),
            "left_out": msgspec.json.encode(body.left).decode(),
            "tag_on": given(body.tag_on),
            "reason": None,
            "note": given(body.words),
            "disinfection": given(body.disinfection),
        }
    ]


_NOTHING = ("first", "goes", "suggested_first", "suggested_goes", "counts", "tag_on", "disinfection")


def _abandoned(body: InspectionAbandoned) -> list[Row]:
    nothing: Row = dict.fromkeys(_NOTHING, None)
    lists: Row = dict.fromkeys(("rows", "relies", "elsewhere", "left_out"), "[]")
    return [nothing | lists | {"ended": "abandoned", "reason": body.reason, "note": given(body.note)}]


Rows = Callable[..., list[Row]]
Shape = tuple[Rows, Statement, Statement]
_SHAPES: Mapping[str, tuple[type[Struct], tuple[Shape, ...]]] = {
    "inspection.begun": (InspectionBegun, ((_part, ADD_PART, CORRECT_PART),)),
    "serial.photographed": (SerialPhotographed, ((_serial, ADD_SERIAL, CORRECT_SERIAL),)),
    "part.marked": (PartMarked, ((_marks, ADD_MARK, CORRECT_MARK),)),
    "finding.recorded": (
        FindingRecorded,
        ((_finding, ADD_FINDING, CORRECT_FINDING), (_laid, ADD_LAID, CORRECT_LAID)),
    ),
    "photo.added": (PhotoAdded, ((_laid, ADD_LAID, CORRECT_LAID),)),
    "photo.marked": (PhotoMarked, ((_laid, ADD_LAID, CORRECT_LAID),)),
    "reading.taken": (ReadingTaken, ((_reading, ADD_READING, CORRECT_READING),)),
    "channel.looked": (ChannelLooked, ((_run, ADD_RUN, CORRECT_RUN), (_run_mark, ADD_MARK, CORRECT_MARK))),
    "inspection.concluded": (InspectionConcluded, ((_concluded, ADD_ENDING, CORRECT_ENDING),)),
    "inspection.abandoned": (InspectionAbandoned, ((_abandoned, ADD_ENDING, CORRECT_ENDING),)),
}
"""Kind -> the body's type, and for each table its rows: what they are, how they are added, how for a correction."""


# ---------------------------------------------------------------- folds


def _whose(counted: Counted) -> Row:
    return {
        "version": counted.hash,
        "begun": begun_of(counted),
        "scope": scope_of(counted.entry),
        "when_ms": when_ms(counted.entry),
    }


def details(counted: Counted) -> Iterable[Change]:
    """The rows of one body."""
    kind, shapes = _SHAPES[counted.entry.kind]
    assert isinstance(counted.body, kind)
    whose = _whose(counted)
    for rows, add, _ in shapes:
        for row in rows(counted.body):
            yield Change(add, whose | row)


def begun(counted: Counted) -> Iterable[Change]:
    """An inspection part, its own root unless it continues one; and its scope was seen at this place."""
    body = counted.body
    assert isinstance(body, InspectionBegun)
    row, whose = _part(body)[0], _whose(counted)
    yield Change(ADD_PART, whose | row | {"root": row["root"] or counted.hash})
    yield Change(SEE, {"place": row["place"], "scope": whose["scope"], "seen_ms": whose["when_ms"]})


def photos(counted: Counted) -> Iterable[Change]:
    """The photos of any entry, each once, with the part and the rings its body gives them."""
    if not counted.entry.photos:
        return
    body, whose = counted.body, _whose(counted)
    rings = body.rings if isinstance(body, FindingRecorded | PhotoAdded) else []
    finding = body.finding if isinstance(body, PhotoAdded) else None
    for photo in {p.sha256: p for p in counted.entry.photos}.values():
        yield Change(
            ADD_PHOTO,
            whose
            | _where(body)
            | {
                "sha256": photo.sha256,
                "part": _part_shown(body),
                "shows": photo.shows,
                "of_finding": given(finding),
                "type": photo.type,
                "bytes": photo.bytes,
                "width": photo.width,
                "height": photo.height,
                "rings": _laid_text(ring for ring in rings if ring.photo == photo.sha256),
                "taken": msgspec.json.encode(photo.taken).decode() if isinstance(photo.taken, Taken) else None,
                "changed": counted.changed,
            },
        )


def _part_shown(body: Struct) -> str:
    if isinstance(body, FindingRecorded):
        return body.part
    if isinstance(body, PhotoAdded) and isinstance(body.part, str):
        return body.part
    if isinstance(body, ChannelLooked):
        return body.channel
    if isinstance(body, PartMarked) and len(set(body.parts)) == 1:
        return body.parts[0]
    return ""


def serial_read(counted: Counted) -> Iterable[Change]:
    """What the server read in a serial photo. It may come before or after anything the tablet's chain says."""
    body = counted.body
    assert isinstance(body, SerialRead)
    yield Change(ADD_SERIAL_READING, _whose(counted) | {"photo": body.photo, "code": body.code})


def holds(counted: Counted) -> Iterable[Change]:
    """The hold that follows from a decision or from a serial number that contradicts."""
    hold = _hold_of(counted.body)
    if hold:
        whose: Row = {"scope": scope_of(counted.entry), "begun": begun_of(counted)}
        yield Change(ADD_HOLD, hold | whose | {"version": counted.hash})


def _hold_of(body: Struct) -> Row | None:
    """A decision that does not let the scope go on, or would not have; a laxer choice waits for the lead."""
    if isinstance(body, InspectionConcluded):
        goes = stricter_goes(body.goes, body.suggested_goes)
        if goes == "on":
            return None
        cause = "concluded" if goes == body.goes else "laxer"
        return {"cause": cause, "goes": goes, "reason": None, "tag_on": given(body.tag_on), "note": given(body.words)}
    if isinstance(body, SerialPhotographed | SerialRead) and body.agrees == "no":
        return {"cause": "serial", "goes": "hold", "reason": "wrong_number", "tag_on": None, "note": None}
    return None


def settled(counted: Counted) -> Iterable[Change]:
    """Whether the part is still open. Only entries of a part can end it or open it again."""
    begun = begun_of(counted)
    if begun:
        yield Change(SETTLE_PART, {"of_begun": begun})


def corrected(counted: Counted) -> Iterable[Change]:
    """The rows of the new body; what it hangs on and when it was are those of the entry it corrects."""
    body, target = counted.body, counted.target
    assert isinstance(body, EntryCorrected)
    of: Row = {"version": counted.hash, "of": body.entry}
    if target is not None and target.body is not None:
        for rows, _, correct in _SHAPES[target.kind][1] if target.kind in _SHAPES else ():
            for row in rows(target.body):
                yield Change(correct, row | of)
        hold = _hold_of(target.body)
        if hold:
            yield Change(CORRECT_HOLD, hold | of)
    yield from photos(counted)
    yield from settled(counted)


FOLDS: dict[str, Fold] = {
    "inspection.begun": begun,
    "serial.photographed": in_turn(details, photos, holds),
    "part.marked": in_turn(details, photos),
    "finding.recorded": in_turn(details, photos),
    "photo.added": in_turn(details, photos),
    "photo.marked": details,
    **PHOTO_FOLDS,
    "reading.taken": in_turn(details, photos),
    "channel.looked": in_turn(details, photos),
    "inspection.concluded": in_turn(details, settled, holds, photos),
    "inspection.abandoned": in_turn(details, settled, photos),
    "hold.placed": photos,
    "scope.registered": photos,
    "custody.accepted": photos,
    "repair.asked": photos,
    "repair.decontaminated": photos,
    "repair.packed": photos,
    "repair.shipped": photos,
    "repair.noted": photos,
    "repair.returned": photos,
    "loaner.received": photos,
    "loaner.sent_back": photos,
    "serial.read": in_turn(serial_read, holds),
    "entry.withdrawn": settled,
    "entry.corrected": corrected,
}
"""To be run after those of scopes: they look at the acts that scopes write for the same entry."""
