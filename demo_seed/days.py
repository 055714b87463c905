"""The last days at Harrow Lake, as entries: what was looked at, found and decided."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from demo_seed.house import C_07, C_09, C_11, C_14, MAKER, Scope
from demo_seed.pictures import picture
from demo_seed.writer import Writer

BASELINE = ("band_tip", "lens", "tube_2", "biopsy_port", "control_body", "light_guide_plug")
"""Parts photographed although nothing was found, so that the next look has something to compare with."""


@dataclass(frozen=True)
class Found:
    """What one inspection says beside "looked, nothing found"."""

    part: str
    finding: str
    grade: str = "present"
    since: str = "new"
    mm: int | None = None
    ring: tuple[int, int, int] = (5000, 4700, 900)


@dataclass(frozen=True)
class Look:
    """One inspection of the story."""

    scope: Scope
    person: str
    point: str = "after_cleaning"
    found: tuple[Found, ...] = ()
    could_not: Mapping[str, str] = field(default_factory=dict)
    not_due: tuple[str, ...] = ("ch_air", "ch_water", "ch_jet")
    first: str = "nothing"
    goes: str = "on"
    rows: tuple[str, ...] = ()
    only: int | None = None
    """Stops after so many parts and stays open."""


@dataclass(frozen=True)
class Pins:
    """What begun entries pin, and how a moment names its shift."""

    catalogue: str
    policy: str
    parsed: Mapping[str, Any]
    shift: Callable[[datetime], str]


def write_days(sink: Writer, bench: Writer, pins: Pins, now: datetime) -> None:
    """The whole story, on two chains."""

    def on(writer: Writer, hours_ago: float, look: Look) -> None:
        writer.at = now - timedelta(hours=hours_ago)
        inspect(writer, pins, look)

    scratch = Found("tube_2", "scratch", "minor", "new", 620)
    on(sink, 99, Look(C_14, "ila.venn", not_due=()))
    on(sink, 98, Look(C_11, "rin.oake", not_due=()))
    on(sink, 76, Look(C_09, "ila.venn", not_due=(), could_not={"contacts": "cap_on"}))
    on(bench, 72, Look(C_07, "nia.brook", "after_drying", not_due=()))
    on(sink, 51, Look(C_14, "rin.oake", found=(scratch,), rows=("wear_known",)))
    peel = Found("tube_2", "peeling_coat", "moderate", "new", 410)
    on(sink, 27, Look(C_09, "rin.oake", found=(peel,), goes="hold", rows=("damage_new",)))
    debris = Found("biopsy_port", "debris", ring=(5200, 3200, 1100))
    on(sink, 2, Look(C_11, "ila.venn", found=(debris,), first="clean", rows=("soil_again",)))
    on(sink, 0.6, Look(C_07, "ila.venn", only=12))


def inspect(writer: Writer, pins: Pins, look: Look) -> None:
    """One inspection from the scan to the decision, or to where it was left."""
    kind = pins.parsed["kinds"]["colonoscope"]
    parts, channels = kind["points"][look.point]["parts"], kind["points"][look.point]["channels"]
    scope, key = look.scope, f"{look.scope.serial} {writer.at:%d %H}"
    about: dict[str, object] = {"scope": scope.key}
    about["inspection"] = writer.write("inspection.begun", look.person, about, _begun(pins, look, writer.at))
    plate = picture("serial", key, "serial", text=scope.serial)
    serial = {"how": "last_four", "last_four": scope.serial[-4:], "agrees": "yes", "where": "under the control body"}
    writer.write("serial.photographed", look.person, about, serial, [plate], 20)
    found = {each.part: each for each in look.found}
    for part in parts[: look.only]:
        if part in found:
            _finding(writer, about, look, found[part], key)
        elif part in look.could_not:
            body = {"mark": "could_not_look", "parts": [part], "reason": look.could_not[part]}
            writer.write("part.marked", look.person, about, body)
        else:
            if part in BASELINE:
                writer.write("photo.added", look.person, about, {"part": part}, [picture(part, key)], 14)
            writer.write("part.marked", look.person, about, {"mark": "nothing_found", "parts": [part]})
    if look.only is None:
        _channels(writer, about, look, kind["channels"], channels)
        writer.write("inspection.concluded", look.person, about, _concluded(look, [*parts, *channels]), after_s=25)


def _begun(pins: Pins, look: Look, at: datetime) -> dict[str, object]:
    return {
        "point": look.point,
        "scope_kind": "colonoscope",
        "catalogue": pins.catalogue,
        "policy": pins.policy,
        "shift": pins.shift(at),
        "identified": {"by": "camera", "text": f"01{look.scope.di}21{look.scope.serial}", "symbology": "]d2"},
        "not_due": list(look.not_due),
    }


def _finding(writer: Writer, about: Mapping[str, object], look: Look, found: Found, key: str) -> None:
    depth_cm = "" if found.mm is None else str(round(found.mm / 100) * 10)
    shot = picture(found.part, key, "finding", flaw=found.finding, text=depth_cm)
    x, y, r = found.ring
    body: dict[str, object] = {
        "part": found.part,
        "finding": found.finding,
        "grade": found.grade,
        "since": found.since,
        "rings": [{"photo": shot.sha256, "x": x, "y": y, "r": r}],
    }
    if found.mm is not None:
        body["place"] = {"mm": found.mm, "end": "tip", "known": "read_off"}
    writer.write("finding.recorded", look.person, about, body, [shot], 40)


def _channels(
    writer: Writer,
    about: Mapping[str, object],
    look: Look,
    known: Sequence[Mapping[str, Any]],
    channels: Sequence[str],
) -> None:
    for channel in known:
        if channel["id"] not in channels or channel["id"] in look.not_due:
            continue
        body: dict[str, object] = {"channel": channel["id"], "outcome": "through"}
        how = {"way": "from_port", "borescope": "B-3"} if channel["reach"] == "borescope" else {"flow": "free"}
        writer.write("channel.looked", look.person, about, body | how, after_s=70)


def _concluded(look: Look, route: Sequence[str]) -> dict[str, object]:
    not_due = sum(each in look.not_due for each in route)
    found, could_not = len(look.found), len(look.could_not)
    counts = {
        "not_looked": 0,
        "nothing_found": len(route) - not_due - found - could_not,
        "finding": found,
        "could_not_look": could_not,
        "not_due": not_due,
        "none_here": 0,
    }
    body: dict[str, object] = {
        "first": look.first,
        "goes": look.goes,
        "suggested_first": look.first,
        "suggested_goes": look.goes,
        "rows": list(look.rows),
        "counts": counts,
    }
    return body | ({"tag_on": True} if look.goes == "hold" else {})


def description(scope: Scope) -> dict[str, object]:
    """What the facility records of a scope. Lengths are invented."""
    return {
        "scope_kind": "colonoscope",
        "serial": scope.serial,
        "di": scope.di,
        "maker": MAKER,
        "model": scope.model,
        "tag": scope.tag,
        "codes": [f"LB1:S:{scope.tag}"],
        "tube_mm": 1680,
        "serial_where": "under the control body",
    }
