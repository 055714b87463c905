"""One inspection as a tablet writes it: from the scan to the decision, or to where it was left."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from loupebook.rules.policy import Suggestion, suggest

from demo_seed.pictures import Plate, part_picture, serial_picture
from demo_seed.scopes import MAKER, Scope, serial_where
from demo_seed.writer import Writer

BASELINE = frozenset(
    (
        "lens",
        "distal_tip_side",
        "band_tip",
        "tube_2",
        "tube_half_1",
        "bite_zone",
        "biopsy_port",
        "elevator_raised",
        "transducer",
    )
)
"""Parts photographed although nothing was found, so that the next look has something to compare with."""
THIN = ("bronchoscope", "cystoscope", "ureteroscope", "rhinolaryngoscope", "choledochoscope")
BORESCOPE = "B-3"
PRESSURE_PA, HELD_S = 22_000, 60
"""Invented; the scope's own instructions say how much and how long."""


@dataclass(frozen=True)
class Found:
    """Something seen. `mm`: from the tip, read off the depth marks."""

    part: str
    finding: str
    grade: str = "present"
    since: str = "new"
    mm: int | None = None


@dataclass(frozen=True)
class Look:
    """One inspection of the story."""

    scope: Scope
    person: str
    point: str
    found: tuple[Found, ...] = ()
    could_not: Mapping[str, str] = field(default_factory=dict)
    leaks_at: str | None = None
    """The part the bubbles came from: the test failed."""
    baseline: bool = False
    channels_due: bool = True
    only: int | None = None
    """Stops after so many parts and stays open."""
    continues_cycle: int = 0
    """How often the scope was already sent back to cleaning in this cycle."""


@dataclass(frozen=True)
class Pins:
    """What begun entries pin, and how a moment names its shift."""

    catalogue: str
    policy: str
    parsed: Mapping[str, Any]
    rows: Mapping[str, Any]
    shift: Callable[[datetime], str]


class Writing:
    """The inspection being written: what hangs together in its entries."""

    def __init__(self, writer: Writer, pins: Pins, look: Look) -> None:
        self.writer, self.pins, self.look = writer, pins, look
        self.kind = pins.parsed["kinds"][look.scope.kind]
        self.at = self.kind["points"][look.point]
        self.key = f"{look.scope.serial} {look.point} {writer.at:%d %H}"
        self.chance = random.Random(self.key)
        self.about: dict[str, object] = {"scope": look.scope.key}
        self.not_due = () if look.channels_due else tuple(self.at["channels"])
        self.facts: list[dict[str, Any]] = []
        self.marked: list[str] = []

    def write(self, kind: str, body: Mapping[str, object], pictures: Sequence[Any] = (), after_s: int = 8) -> str:
        seconds = after_s + self.chance.randrange(max(2, after_s // 3))
        return self.writer.write(kind, self.look.person, self.about, body, pictures, seconds)

    def thin(self) -> bool:
        return self.look.scope.kind.startswith(THIN)


def inspect(writer: Writer, pins: Pins, look: Look) -> str:
    """Writes it; the hash of the last entry, which a lead's decision may name."""
    one = Writing(writer, pins, look)
    one.about["inspection"] = one.write("inspection.begun", _begun(one))
    _serial(one)
    _test(one)
    if look.leaks_at is None:
        _parts(one)
        if look.only is not None:
            return writer.hashes[-1]
        _checks(one)
        _channels(one)
    return one.write("inspection.concluded", _concluded(one), after_s=25)


def _begun(one: Writing) -> dict[str, object]:
    scope = one.look.scope
    by_mark = {"by": "camera", "text": f"01{scope.di}21{scope.serial}", "symbology": "]d2"}
    by_tag = {"by": "wedge", "text": f"LB1:S:{scope.tag}", "proves": "tag"}
    return {
        "point": one.look.point,
        "scope_kind": scope.kind,
        "catalogue": one.pins.catalogue,
        "policy": one.pins.policy,
        "shift": one.pins.shift(one.writer.at),
        "identified": by_mark if scope.di and one.chance.random() < 0.6 else by_tag,
        "not_due": list(one.not_due),
    }


def plate_of(scope: Scope) -> Plate:
    return Plate(MAKER, scope.words, scope.model, scope.serial, scope.di)


def _serial(one: Writing) -> None:
    scope = one.look.scope
    code = {"how": "code", "code": f"01{scope.di}21{scope.serial}"}
    typed = {"how": "last_four", "last_four": scope.serial[-4:]}
    body = {**(code if scope.di else typed), "agrees": "yes", "where": serial_where(scope)}
    one.write("serial.photographed", body, [serial_picture(plate_of(scope), one.key)], 20)


def _test(one: Writing) -> None:
    """The test that the point needs, where it needs one."""
    for what in one.at["needs"]:
        leak, at = what == "leak_test", one.look.leaks_at
        result = ("held" if leak else "within_limit") if at is None else "bubbles"
        body: dict[str, object] = {"what": what, "result": result, "steps": list(one.kind["leak_steps"])}
        if leak:
            body |= {"pressure_pa": PRESSURE_PA, "held_s": HELD_S}
        shots = [] if at is None else [part_picture(at, one.key, "bubbles", one.thin(), shows="leak_test")]
        one.write("reading.taken", body | ({} if at is None else {"parts": [at]}), shots, 150)
        one.facts.append({"what": what, "result": result})


def _parts(one: Writing) -> None:
    """Zone by zone where that is allowed, else one by one, tip to plug."""
    look, due = one.look, list(one.at["parts"])
    found = {each.part: each for each in look.found if each.part in due}
    alone = {part["id"] for part in one.kind["parts"] if part["alone"]}
    zone_of = {part["id"]: part["zone"] for part in one.kind["parts"]}
    shot = {part for part in due if look.baseline and part in BASELINE} | set(found)
    by_hand = {zone_of[part] for part in shot} | {zone_of[part] for part in look.could_not if part in zone_of}
    for part in due[: look.only]:
        if part in one.marked:
            continue
        if part in found:
            _finding(one, found[part])
        elif part in look.could_not:
            one.write("part.marked", {"mark": "could_not_look", "parts": [part], "reason": look.could_not[part]})
        elif one.at["zones"] and part not in alone and zone_of[part] not in by_hand and look.only is None:
            zone = [each for each in due if zone_of[each] == zone_of[part] and each not in alone]
            one.write("part.marked", {"mark": "nothing_found", "parts": zone, "zone": zone_of[part]}, after_s=14)
            one.marked += zone
            continue
        else:
            if part in shot:
                one.write("photo.added", {"part": part}, [part_picture(part, one.key, thin=one.thin())], 14)
            one.write("part.marked", {"mark": "nothing_found", "parts": [part]})
        one.marked.append(part)


def _finding(one: Writing, found: Found) -> None:
    depth = "" if found.mm is None else str(round(found.mm / 100) * 10)
    shot = part_picture(found.part, one.key, found.finding, one.thin(), depth)
    assert shot.ring is not None
    x, y, r = shot.ring
    body: dict[str, object] = {
        "part": found.part,
        "finding": found.finding,
        "grade": found.grade,
        "since": found.since,
        "rings": [{"photo": shot.sha256, "x": x, "y": y, "r": r}],
    }
    if found.mm is not None:
        body["place"] = {"mm": found.mm, "end": "tip", "known": "read_off"}
    one.write("finding.recorded", body, [shot], 40)
    known = one.pins.parsed["findings"][found.finding]
    one.facts.append(
        {
            "what": "finding", "finding": found.finding, "grade": found.grade, "since": found.since,
            "part": found.part, "class": known["class"], "urgency": known["urgency"],
            "cleanings": one.look.continues_cycle, "dryings": 0,
        }
    )  # fmt: skip


def _checks(one: Writing) -> None:
    """Functions tried, where the point asks for them; all work in this story."""
    for check in one.at.get("checks", ()):
        one.write("reading.taken", {"what": check, "result": "works"}, after_s=6)
        one.facts.append({"what": "function", "check": check, "result": "works"})


def _channels(one: Writing) -> None:
    found = {each.part: each for each in one.look.found}
    for channel in one.kind["channels"]:
        name = channel["id"]
        if name not in one.at["channels"] or name in one.not_due:
            continue
        if name in found:
            _finding(one, found[name])
        elif name in one.look.could_not:
            body = {"mark": "could_not_look", "parts": [name], "reason": one.look.could_not[name]}
            one.write("part.marked", body)
        else:
            run = {"way": "from_port", "borescope": BORESCOPE} if channel["reach"] == "borescope" else {"flow": "free"}
            one.write("channel.looked", {"channel": name, "outcome": "through", **run}, after_s=55)


def _concluded(one: Writing) -> dict[str, object]:
    """What the policy suggests, taken as it is; what a failed test left undone is named."""
    look, route = one.look, [*one.at["parts"], *one.at["channels"]]
    left = [] if look.leaks_at is None else [part for part in route if part not in one.not_due]
    counts = {
        "not_looked": len(left),
        "nothing_found": len(route) - len(left) - len(look.found) - len(look.could_not) - len(one.not_due),
        "finding": len(look.found),
        "could_not_look": len(look.could_not),
        "not_due": len(one.not_due),
        "none_here": 0,
    }
    said = _suggested(one, counts)
    return {
        "first": said.first,
        "goes": said.goes,
        "suggested_first": said.first,
        "suggested_goes": said.goes,
        "rows": list(dict.fromkeys(each.row for each in said.rows)),
        "counts": counts,
        "left": [{"part": part, "reason": "leak_test_failed"} for part in left],
        **({} if said.goes == "on" else {"tag_on": True}),
    }


def _suggested(one: Writing, counts: Mapping[str, int]) -> Suggestion:
    here = {"point": one.look.point, "scope_kind": one.look.scope.kind}
    whole = {"what": "inspection", "serial": "yes", **{name: counts[name] for name in ("not_looked", "could_not_look")}}
    return suggest(one.pins.rows, [fact | here for fact in [*one.facts, whole]])
