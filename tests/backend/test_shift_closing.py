"""A shift is closed over real HTTP: counted in one transaction, by one lead only; what comes later is an addendum.

What a closing must hold is the product's own (design, section 8); signer, time and meaning are what 21 CFR 11.50 asks
of a signature. The counts are held against a second count, made here from the bare lines of the log.
"""

from __future__ import annotations

import hashlib
import html
import json
import threading
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import httpx
import msgspec
import pytest
from door_world import LEAD_PIN, code_of
from looked import looked, sent
from loupebook.door.stations import enrol
from loupebook.installation import FOLDED, FOLDS
from loupebook.log.declared import table_of
from loupebook.log.rebuild import rebuild
from loupebook.record.kinds import HeadNamed, ShiftException
from loupebook.record.lines import LONGEST_LINE
from loupebook.shifts.names import Hours, window_of
from loupebook.shifts.rules import MOST_BYTES, Open, after_closing, board_rows, exceptions_of, that_fit
from loupebook.shifts.tables import Answer, Carried
from sink_tablet import SinkTablet
from story import C14, route
from whole_server import WholeServer

pytestmark = pytest.mark.shift

DAY = datetime.now(UTC).date().isoformat()
C11 = "udi:51022222233336/2741911"
TECHNICIAN, OTHER_PIN = "Sink person", "482913"


class House(WholeServer):
    """A server with a technician and a second lead."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.technician = self.desk.add_person(TECHNICIAN)
        self.other = self.desk.add_person("Jo Marlow", ["lead"], OTHER_PIN)


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """One server for all of this file; every test has a place of its own in it."""
    server = House(tmp_path_factory.mktemp("house"))
    yield server
    server.close()


@dataclass
class Room:
    """A place with its shifts; the lead who just gave their PIN, at a desk elsewhere."""

    house: House
    place: str
    shift: str = field(init=False)
    next: str = field(init=False)

    def __post_init__(self) -> None:
        self.shift, self.next = f"{self.place}/{DAY}/day", f"{self.place}/{DAY}/night"
        self.desk, self.lead, self.here = self.house.desk, self.house.lead, self.house.here
        signed = self.desk.browser.sign_in(self.lead, LEAD_PIN)
        assert signed.status_code in (200, 201), signed.text

    def tablet(self, name: str = "Sink 2") -> SinkTablet:
        tablet = self.house.stranger(name)
        here = enrol(self.here.door, self.desk.invite(name, self.place), tablet.public_key)
        tablet.browser.token, tablet.browser.station = here.token, here.station
        tablet.chain.person = self.house.technician
        return tablet

    def second_lead(self) -> SinkTablet:
        """Another lead, signed in at a desk of their own."""
        other = self.tablet("Desk 2")
        person = self.house.other
        answer = other.browser.sign_in(person, OTHER_PIN)
        assert answer.status_code in (200, 201), answer.text
        other.chain.person = person
        return other

    def running(self) -> str:
        """The shift that runs now, by the facility's hours."""
        return next(each for each in self.desk.lead("today")["shifts"] if each.startswith(f"{self.place}/"))


@pytest.fixture
def room(house: House, request: pytest.FixtureRequest) -> Room:
    return Room(house, f"Room of {request.node.name[-60:]}")


def close(desk: SinkTablet, shift: str, **more: Any) -> httpx.Response:
    return desk.command("shift.closed", {"meaning": "reviewed", **more}, {"shift": shift})


def answer(desk: SinkTablet, shift: str, sort: str, of: str, said: str, **more: Any) -> httpx.Response:
    return desk.command("shift.answered", {"sort": sort, "of": of, "answer": said, **more}, {"shift": shift})


def board(desk: SinkTablet, shift: str) -> dict[str, Any]:
    return desk.lead(f"shift?name={shift}")


def rows(desk: SinkTablet, shift: str) -> dict[tuple[str, str], str]:
    return {(row["sort"], row["of"]): row["state"] for row in board(desk, shift)["rows"]}


# ---------------------------------------------------------------- the counts


def counted_again(room: Room, shift: str) -> Counter[str]:
    """The same counts from nothing but the lines of the log: written apart from the product's."""
    with room.here.log.reading() as connection:
        lines = [json.loads(row[0]) for row in connection.exec_driver_sql("SELECT line FROM log_entries ORDER BY 1")]
        hashes = [row[0] for row in connection.exec_driver_sql("SELECT hash FROM log_entries ORDER BY line")]
    begun = {
        hash for hash, line in zip(hashes, lines, strict=True)
        if line["kind"] == "inspection.begun" and line["body"]["shift"] == shift
    }  # fmt: skip
    of = [line for line in lines if line["about"].get("inspection") in begun]
    ends = {line["about"]["inspection"]: line["body"] for line in of if line["kind"] == "inspection.concluded"}
    found = Counter(line["about"]["inspection"] for line in of if line["kind"] == "finding.recorded")
    count: Counter[str] = Counter(inspections=len(begun), not_concluded=len(begun) - len(ends))
    count["findings"] = sum(found.values())
    count["photos"] = sum(len(line["photos"]) for line in of)
    for root, end in ends.items():
        count["with_finding" if found[root] else "nothing_found"] += 1
        count[f"first_{end['first']}"] += 1
        count[f"goes_{end['goes']}"] += 1
    for line in of:
        if line["kind"] == "part.marked":
            count["parts_nothing_found"] += len(line["body"]["parts"])
        if line["kind"] == "finding.recorded":
            count["parts_nothing_found"] -= 1  # the part was marked before, and the finding is the stricter
            count["parts_finding"] += 1
    return count


def test_a_closing_counts_what_the_entries_say_and_its_counts_add_up(room: Room) -> None:
    sink = room.tablet()
    for number in range(3):
        looked(sink, room.shift, scope=(C14, C11)[number % 2], find=number == 1)
    looked(sink, room.shift, end=False)
    looked(sink, room.next)
    assert close(room.desk, room.shift, note="C-14 is wet").status_code == 201
    told = board(room.desk, room.shift)["closed"]
    counts, again = told["body"]["counts"], counted_again(room, room.shift)
    assert counts["inspections"] == 4 and again["with_finding"] == 1
    for name, value in counts.items():
        if name not in ("parts", "photos_waiting", "holds", "aside", "scopes", "abandoned", "out_of_use"):
            assert value == again[name], name
    assert (counts["photos_waiting"], counts["scopes"]) == (again["photos"], 2)
    assert (counts["parts"]["finding"], counts["parts"]["nothing_found"]) == (
        again["parts_finding"], again["parts_nothing_found"],
    )  # fmt: skip
    ended = counts["nothing_found"] + counts["with_finding"] + counts["out_of_use"]
    assert counts["inspections"] == counts["not_concluded"] + counts["abandoned"] + ended
    assert ended == sum(counts[f"first_{each}"] for each in ("nothing", "dry", "clean", "whole"))
    assert ended == sum(counts[f"goes_{each}"] for each in ("on", "hold", "repair"))
    assert sum(counts["parts"].values()) == 4 * len(route("before_use")[0])
    assert told["person"] == room.lead and told["body"]["meaning"] == "reviewed"
    assert told["body"]["note"] == "C-14 is wet"


def test_a_closing_names_the_head_of_every_chain_and_the_servers_own(room: Room) -> None:
    sink, other = room.tablet(), room.tablet("Sink 3")
    looked(sink, room.shift)
    looked(other, room.shift, scope=C11)
    before = room.here.log.head(room.here.log.server.chain)
    assert close(room.desk, room.shift).status_code == 201
    heads = {
        each["chain"]: (each["seq"], each["hash"]) for each in board(room.desk, room.shift)["closed"]["body"]["heads"]
    }
    for tablet in (sink, other):
        assert heads[tablet.chain.chain] == (len(tablet.chain.lines), tablet.chain.hashes[-1])
    assert heads[room.here.log.server.chain] == (before.seq, before.hash)


# ---------------------------------------------------------------- against the log of a washer


def washer(desk: SinkTablet, shift: str, data: bytes, **more: str) -> httpx.Response:
    browser = desk.browser
    return browser.http.post(
        "/lead/shift/log", params={"name": shift, **more}, files={"file": ("log.csv", data)}, headers=browser.headers()
    )


def log_of(room: Room, *rows: str, head: str = "Started at;Scope;Machine;Cycle;Result;Patient") -> bytes:
    """A log of this shift: `{}` of a row becomes a moment an hour after it began, with its offset."""
    begins = board(room.desk, room.shift)["begins_ms"] / 1000 + 3600
    at = datetime.fromtimestamp(begins, UTC).isoformat(timespec="seconds")
    return "\n".join([head, *(row.format(at) for row in rows)]).encode("cp1252")


def test_a_washers_log_is_shown_first_and_the_closing_says_how_it_differs_from_the_looks(room: Room) -> None:
    """Traceability of each cycle to its scope: what was cleaned and what was looked at are two lists (common practice,
    no source)."""
    for key, tag in ((C14, "C-14"), (C11, "C-11")):
        described = {"scope_kind": "colonoscope", "serial": key[-7:], "di": "51022222233336", "tag": tag}
        assert room.desk.command("scope.described", described, {"scope": key}).status_code in (201, 409)
    looked(room.tablet(), room.shift)
    data = log_of(
        room, "{};C-11;W-2;3107;passed;DOE-77", "2001-02-03 04:05;C-14;W-2;1;passed;DOE-78",
        "{};C-99;W-2;3108;stopped;DOE-79", "soon;C-14;W-2;3109;passed;DOE-80",
    )  # fmt: skip
    before = room.here.log.position
    answer = washer(room.desk, room.shift, data)
    assert answer.status_code == 200, answer.text
    told = answer.json()
    assert (told["rows"], told["in_hours"], told["outside"], told["lost"]) == (4, 2, 1, 2)
    assert [(row["row"], row["scope"], row["machine"], row["cycle"]) for row in told["lines"]] == [
        (2, C11, "W-2", "3107")
    ]
    assert [(row["row"], row["why"]) for row in told["not_placed"]] == [(4, "scope_unknown"), (5, "time_not_read")]
    assert [each["name"] for each in told["columns"] if each["column"] is None] == ["Patient"]
    assert "DOE-" not in answer.text and told["sha256"] == hashlib.sha256(data).hexdigest()
    assert room.here.log.position == before, "nothing is written by looking at it"

    assert close(room.desk, room.shift, logs=["0" * 64]).json()["trouble"]["code"] == "log_gone"
    elsewhere = close(room.desk, room.next, logs=[told["log"]])
    assert elsewhere.json()["trouble"]["code"] == "log_gone", "a log read for one shift closes no other"
    assert close(room.desk, room.shift, logs=[told["log"]]).status_code == 201
    closed = board(room.desk, room.shift)
    assert closed["closed"]["body"]["came"]["logged"] == {
        "files": [{"file": told["sha256"], "rows": 4, "in_hours": 2, "not_placed": 2}],
        "count": 1, "scopes": [C11], "not_looked_count": 1, "not_looked": [C11], "not_logged_count": 1,
        "not_logged": [C14],
    }  # fmt: skip
    assert {C11, C14} <= set(closed["scopes"])
    sheet = room.desk.browser.get(f"/lead/shift/sheet?name={room.shift}").text
    assert "In the machine's log, but not looked at: C-11." in html.unescape(sheet)
    assert "Looked at, but not in the machine's log: C-14." in html.unescape(sheet)
    with room.here.log.reading() as connection:
        lines = connection.exec_driver_sql("SELECT line FROM log_entries").scalars()
        assert not any(b"DOE-" in line or b'"3107"' in line for line in lines), "of a row its scope alone is kept"
    assert washer(room.desk, room.shift, data).json()["trouble"]["code"] == "closed_already"


def test_a_log_for_no_shift_at_all_is_refused(room: Room) -> None:
    assert washer(room.desk, "somewhere", b"Time,Scope\n1,2\n").json()["trouble"]["code"] == "no_shift"


def test_dates_that_may_be_read_two_ways_are_asked_about_and_nothing_is_named_before(room: Room) -> None:
    begins = datetime.fromtimestamp(board(room.desk, room.shift)["begins_ms"] / 1000 + 3600, UTC)
    data = f"Started at,Scope\n{begins:%d/%m/%Y %H:%M}Z,C-14\n05/04/2001 07:12,C-14\n".encode("utf-8-sig")
    told = washer(room.desk, room.shift, data).json()
    if begins.day > 12:
        assert told["dates"] == {"orders": ["day_first"], "read": "day_first", "in_hours": {"day_first": 1}}
        data = b"Started at,Scope\n05/04/2001 07:12,C-14\n"
        told = washer(room.desk, room.shift, data).json()
    assert told["log"] is None and told["lines"] == [] and told["dates"]["orders"] == ["day_first", "month_first"]
    again = washer(room.desk, room.shift, data, dates="month_first").json()
    assert again["log"] is not None and again["dates"]["read"] == "month_first"


# ---------------------------------------------------------------- one only


def test_two_leads_who_close_at_once_end_with_one_record_and_one_is_told_who_and_when(room: Room) -> None:
    sink, other = room.tablet(), room.second_lead()
    looked(sink, room.shift)
    start, told = threading.Barrier(2), {}

    def closes(desk: SinkTablet) -> None:
        start.wait()
        told[desk.chain.person] = close(desk, room.shift)

    both = [threading.Thread(target=closes, args=(desk,)) for desk in (room.desk, other)]
    for thread in both:
        thread.start()
    for thread in both:
        thread.join()
    assert sorted(each.status_code for each in told.values()) == [201, 409]
    first = next(person for person, each in told.items() if each.status_code == 201)
    refused = next(each for each in told.values() if each.status_code == 409)
    assert code_of(refused) == "closed_already"
    trouble, closed = refused.json()["trouble"], board(room.desk, room.shift)["closed"]
    assert closed["person"] == first
    name = {room.lead: "Moira Keld", other.chain.person: "Jo Marlow"}[first]
    zone = ZoneInfo(room.here.facility().zone)
    at = datetime.fromisoformat(closed["at"]).astimezone(zone)
    assert trouble["so"].startswith(f"{name} closed this shift at {at:%H:%M}")
    assert trouble["safe"] and trouble["next"]
    with room.here.log.reading() as connection:
        written = connection.exec_driver_sql("SELECT line FROM log_entries WHERE kind = 'shift.closed'").scalars()
        assert [json.loads(line)["about"]["shift"] for line in written].count(room.shift) == 1


def test_a_fresh_pin_closes_and_a_name_that_is_no_shift_does_not(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    assert code_of(close(room.desk, "yesterday")) == "bad_body"
    assert code_of(close(room.desk, room.shift, counted=-1)) == "bad_body"
    assert code_of(close(room.desk, room.shift, meaning="seen")) == "bad_body"
    door, now = room.here.door, room.here.door.now_ms
    with monkeypatch.context() as later:
        later.setattr(door, "now_ms", lambda: now() + 6 * 60_000)
        refused = close(room.desk, room.shift)
    assert (refused.status_code, code_of(refused)) == (401, "prove_again")
    assert board(room.desk, room.shift)["closed"] is None


def test_a_closed_shift_takes_no_more_answers(room: Room) -> None:
    assert close(room.desk, room.shift).status_code == 201
    assert code_of(answer(room.desk, room.shift, "hold", "a" * 64, "carried")) == "closed_already"


# ---------------------------------------------------------------- what stands open


def test_the_board_names_each_thing_that_stands_open_and_what_is_settled_goes_by_itself(room: Room) -> None:
    sink = room.tablet()
    chain = sink.chain
    looked(sink, room.shift, end=False)
    open_root = chain.begin("after_cleaning", shift=room.shift)
    chain.serial()
    chain.write("channel.looked", {"channel": "ch_jet", "outcome": "through", "borescope": "B-3"})
    held = chain.write("hold.placed", {"reason": "doubt", "tag_on": False}, inspection=False)
    done = looked(sink, room.shift, scope=C11, find=True)
    chain.begun = None
    chain.at = datetime.now(UTC)
    chain.scope = "mms:Alder|CX|7"
    chain.write("scope.received", {"place": room.place})
    chain.scope = C14
    chain.write("custody.offered", {"place": room.place})
    chain.write("tool.registered", {"what": "borescope", "place": room.place}, about={"tool": "B-3"})
    chain.begun = open_root
    aside = chain.mark("no_such_part")
    sink.send()
    with room.here.log.writing() as connection:
        connection.exec_driver_sql("UPDATE station_seen SET seen_ms = seen_ms - 3600000 WHERE station = "
                                   f"'{sink.browser.station}'")  # fmt: skip
    room.here.door._seen.pop(sink.browser.station)  # what the door wrote a moment ago it does not write again
    stands = rows(room.desk, room.shift)
    shift = room.running()
    received = {key for key in rows(room.desk, shift) if key[0] == "received"}
    assert received == {("received", "mms:Alder|CX|7")}
    wanted = {
        ("inspection", open_root), ("photos", done), ("photos", open_root), ("aside", aside), ("hold", held),
        ("offer", C14), ("tool", "B-3"), ("station", sink.browser.station),
    }  # fmt: skip
    assert wanted <= set(stands) and set(stands.values()) == {"open"}
    silent = next(row for row in board(room.desk, room.shift)["rows"] if row["sort"] == "station")
    assert silent["about"]["head"]["seq"] == len(chain.lines)

    for sort, of in (("hold", held), ("tool", "B-3"), ("inspection", open_root)):
        assert answer(room.desk, room.shift, sort, of, "carried", owner=room.lead).status_code == 201
    decided = {"hold": held, "goes": "on", "first": "nothing", "reason": "seen"}
    assert room.desk.command("hold.decided", decided, {"scope": C14}).status_code == 201
    chain.write("tool.processed", {"place": room.place}, about={"tool": "B-3"})
    chain.begun = open_root
    chain.write("inspection.abandoned", {"reason": "interrupted"})
    sink.send()
    settled = rows(room.desk, room.shift)
    assert settled["hold", held] == "settled" and settled["tool", "B-3"] == "settled"
    assert settled["inspection", open_root] == "settled"
    assert ("station", sink.browser.station) not in settled, "it was heard from, and nobody had answered that"


def test_an_answer_can_be_changed_and_taken_back_and_without_needs_a_reason(room: Room) -> None:
    sink = room.tablet()
    root = looked(sink, room.shift, end=False)
    assert code_of(answer(room.desk, room.shift, "inspection", root, "without")) == "bad_body"
    for said, more in (("without", {"reason": "scope left the house"}), ("carried", {"owner": room.lead})):
        assert answer(room.desk, room.shift, "inspection", root, said, **more).status_code == 201
        assert rows(room.desk, room.shift)["inspection", root] == said
    assert answer(room.desk, room.shift, "inspection", root, "open").status_code == 201
    assert rows(room.desk, room.shift)["inspection", root] == "open"


def test_a_look_that_was_due_and_skipped_stands_and_not_due_today_does_not(room: Room) -> None:
    sink = room.tablet()
    chain = sink.chain
    skipped = chain.begin("before_use", shift=room.shift)
    chain.serial()
    for part in route("before_use")[0]:
        chain.mark(part)
    chain.conclude()
    parts, channels = route("after_cleaning")
    chain.begin("after_cleaning", shift=room.shift, not_due=[*parts, *channels])
    chain.serial()
    chain.conclude()
    sent(sink)
    row = next(row for row in board(room.desk, room.shift)["rows"] if row["sort"] == "skipped")
    assert (row["of"], row["about"]["parts"]) == (skipped, 0)
    assert row["about"]["tests"] == ["function_image_light", "function_tip_moves", "function_air_water_suction"]
    assert sum(each["sort"] == "skipped" for each in board(room.desk, room.shift)["rows"]) == 1


def test_scopes_that_came_are_held_against_scopes_looked_at_by_scans_or_as_counted(room: Room) -> None:
    sink = room.tablet()
    shift = room.running()
    sink.chain.at = datetime.now(UTC)
    for key in (C14, C11):
        sink.chain.scope = key
        sink.chain.write("scope.received", {"place": room.place})
    looked(sink, shift, scope=C14)
    assert board(room.desk, shift)["came"] == {"count": 2, "how": "scans", "looked": 1, "not_looked": [C11]}
    assert close(room.desk, shift, counted=5).status_code == 201
    came = board(room.desk, shift)["closed"]["body"]["came"]
    assert came == {"count": 5, "how": "counted", "looked": 1, "not_looked": [C11]}


# ---------------------------------------------------------------- the next shift


def test_what_is_left_goes_to_the_next_shift_with_its_owner_and_note_until_it_is_done(room: Room) -> None:
    sink = room.tablet()
    root, other = looked(sink, room.shift, end=False), looked(sink, room.shift, scope=C11, end=False)
    answer(room.desk, room.shift, "inspection", root, "carried", owner=room.lead, reason="the lens is fogged")
    assert close(room.desk, room.shift, note="ring biomed at nine").status_code == 201
    said = {
        (each["sort"], each["answer"]): each for each in board(room.desk, room.shift)["closed"]["body"]["exceptions"]
    }
    assert said["inspection", "carried"]["of"] == [root] and said["inspection", "carried"]["owner"] == room.lead
    assert said["inspection", "unanswered"]["of"] == [other], "nothing keeps anybody from going home"

    told = board(room.desk, room.next)
    assert (told["last"]["shift"], told["last"]["note"]) == (room.shift, "ring biomed at nine")
    came = {row["of"]: row for row in told["rows"] if row["sort"] == "inspection"}
    assert came[root]["before"]["owner"] == room.lead and came[root]["before"]["reason"] == "the lens is fogged"
    assert came[other]["before"]["owner"] is None and came[root]["state"] == came[other]["state"] == "open"

    chain = sink.chain
    chain.begun, chain.scope = root, C14
    chain.conclude()
    sent(sink)
    answer(room.desk, room.next, "inspection", other, "without", reason="abandoned on a broken tablet")
    assert rows(room.desk, room.next)["inspection", root] == "settled"
    assert close(room.desk, room.next).status_code == 201
    later = f"{room.place}/9999-01-01/day"
    left = rows(room.desk, later)
    assert ("inspection", root) not in left and ("inspection", other) not in left
    assert left["photos", root] == "open", "its photos have still not come"


def test_what_arrives_later_is_added_noted_by_one_act_and_changes_nothing_that_was_closed(room: Room) -> None:
    here, missing = room.tablet(), room.tablet("Sink 3")
    looked(here, room.shift)
    assert close(room.desk, room.shift).status_code == 201
    closed = board(room.desk, room.shift)["closed"]
    late = looked(missing, room.shift, scope=C11, find=True)
    told = board(room.desk, room.shift)
    assert told["closed"]["body"] == closed["body"]
    assert [each["entry"] for each in told["closed"]["late"]] == missing.chain.hashes
    came = next(row for row in board(room.desk, room.next)["rows"] if row["sort"] == "late")
    assert (came["of"], came["about"]["shift"], came["about"]["entries"]) == (
        closed["closing"], room.shift, len(missing.chain.lines),
    )  # fmt: skip
    assert late in {each["root"] for each in told["inspections"]}

    entries = [each["entry"] for each in told["closed"]["late"]]
    note = {"closing": closed["closing"], "entries": entries[:2]}
    assert room.desk.command("shift.added", note, {"shift": room.shift}).status_code == 201
    again = room.desk.command("shift.added", note, {"shift": room.shift})
    assert (again.status_code, code_of(again)) == (409, "noted_meanwhile")
    note["entries"] = entries[2:]
    assert room.desk.command("shift.added", note, {"shift": room.shift}).status_code == 201
    after = board(room.desk, room.shift)["closed"]
    assert after["late"] == [] and [each["entries"] for each in after["noted"]] == [2, len(entries) - 2]
    assert after["body"] == closed["body"]
    assert not any(row["sort"] == "late" for row in board(room.desk, room.next)["rows"])
    unknown = room.desk.command("shift.added", {"closing": "a" * 64, "entries": entries}, {"shift": room.shift})
    assert code_of(unknown) == "no_closing"


def test_a_tablet_that_comes_after_two_closings_is_still_shown(room: Room) -> None:
    missing = room.tablet("Sink 3")
    assert close(room.desk, room.shift).status_code == 201
    looked(missing, room.shift)
    assert close(room.desk, room.next).status_code == 201
    later = f"{room.place}/9999-01-01/day"
    assert [row["about"]["shift"] for row in board(room.desk, later)["rows"] if row["sort"] == "late"] == [room.shift]


def test_an_entry_let_in_after_closing_is_an_addendum_too(room: Room) -> None:
    sink = room.tablet()
    sink.chain.person = "nobody.here"
    begun = sink.chain.begin("before_use", shift=room.shift)
    sink.send()
    assert close(room.desk, room.shift).status_code == 201
    settled = {"entry": begun, "outcome": "count", "reason": "a colleague of another ward"}
    assert room.desk.command("aside.settled", settled).status_code == 201
    assert [each["entry"] for each in board(room.desk, room.shift)["closed"]["late"]] == [begun]


# ---------------------------------------------------------------- the tables


def test_rebuilding_gives_the_same_rows_of_shifts(room: Room) -> None:
    sink = room.tablet()
    root = looked(sink, room.shift, end=False)
    answer(room.desk, room.shift, "inspection", root, "carried", owner=room.lead)
    close(room.desk, room.shift)
    looked(sink, room.shift, scope=C11)
    closed = board(room.desk, room.shift)["closed"]
    note = {"closing": closed["closing"], "entries": [closed["late"][0]["entry"]]}
    assert room.desk.command("shift.added", note, {"shift": room.shift}).status_code == 201
    before = board(room.desk, room.shift), board(room.desk, room.next)
    rebuild(room.here.engine, FOLDS, [table_of(each) for each in FOLDED])
    again = board(room.desk, room.shift), board(room.desk, room.next)
    for one, other in zip(before, again, strict=True):
        assert one == other


# ---------------------------------------------------------------- rules


def test_what_is_open_answered_carried_or_settled_is_told_apart() -> None:
    said = Answer("without", "broken", None, "moira.keld", "t")
    to = Answer("carried", None, "jo.marlow", "moira.keld", "t")
    came = Carried("s", "c", None, "jo.marlow")
    found = board_rows(
        [Open("hold", "a"), Open("hold", "b"), Open("tool", "t"), Open("inspection", "i")],
        {("hold", "b"): said, ("tool", "t"): to, ("station", "gone"): to},
        {("hold", "old"): came, ("hold", "a"): came},
    )
    assert [(row.sort, row.of, row.state) for row in found] == [
        ("inspection", "i", "open"), ("hold", "a", "open"), ("hold", "b", "without"), ("hold", "old", "settled"),
        ("tool", "t", "carried"), ("station", "gone", "settled"),
    ]  # fmt: skip
    assert {(each.sort, each.answer): each.of for each in exceptions_of(found)} == {
        ("inspection", "unanswered"): ["i"], ("hold", "unanswered"): ["a"], ("hold", "without"): ["b"],
        ("hold", "settled"): ["old"], ("tool", "carried"): ["t"], ("station", "settled"): ["gone"],
    }  # fmt: skip


def test_a_closing_of_any_size_fits_its_line_and_says_how_many_there_were() -> None:
    heads = [HeadNamed(f"{n:064}", n, f"{n:064}") for n in range(100)]
    many = [ShiftException("photos", "carried", [f"{n:064}" for n in range(3000)], 3000)]
    fitted = that_fit(many, heads)
    assert fitted[0].count == 3000 and 0 < len(fitted[0].of) < 3000
    assert len(msgspec.json.encode(fitted)) + len(msgspec.json.encode(heads)) <= MOST_BYTES < LONGEST_LINE - 4096
    assert that_fit(many[:0], heads) == []


def test_a_correction_by_its_author_after_closing_counts_and_a_lead_is_told(room: Room) -> None:
    sink = room.tablet()
    root = looked(sink, room.shift, find=True)
    seen = next(each for each, line in zip(sink.chain.hashes, sink.chain.lines, strict=True) if b"finding.rec" in line)
    body = {"part": "lens", "finding": "film", "grade": "minor", "since": "new"}
    sink.chain.correct(seen, body)
    sent(sink)
    assert close(room.desk, room.shift).status_code == 201

    def points() -> list[dict[str, Any]]:
        told = room.desk.lead(f"inspections/{root}")["points"]
        return [each["entries"] for each in told if each["what"] == "after_closing"]

    assert points() == [], "its author may, until the shift is closed"
    late = sink.chain.correct(seen, body | {"grade": "severe"}, builds_on=sink.chain.hashes[-1])
    back = sink.chain.withdraw(next(each for each in sink.chain.hashes[2:4]))
    sent(sink)
    assert points() == [sorted([late, back])]
    assert room.desk.lead(f"inspections/{root}")["findings"][0]["grade"] == "severe"
    assert after_closing([("a", "ila.venn"), ("b", "moira.keld")], {"moira.keld"}) == ["a"]


@pytest.mark.parametrize(
    ("shift", "hours"),
    [("day", 8), ("evening", 7), ("night", 9), ("gone", 24)],
)
def test_a_shift_runs_until_the_next_one_begins(shift: str, hours: int) -> None:
    usual = [Hours("day", "07:00", "15:00"), Hours("evening", "15:00", "21:00"), Hours("night", "22:00", "07:00")]
    begins, ends = window_of(f"Sink room/2026-03-02/{shift}", usual, ZoneInfo("America/New_York"))
    assert ends - begins == hours * 3_600_000


def test_a_night_with_a_changed_hour_is_an_hour_shorter_and_a_name_that_is_none_is_no_time() -> None:
    """Clocks went forward in New York on 8 March 2026 at 02:00 (tz database)."""
    usual = [Hours("day", "07:00", "22:00"), Hours("night", "22:00", "07:00")]
    begins, ends = window_of("P/2026-03-07/night", usual, ZoneInfo("America/New_York"))
    assert ends - begins == 8 * 3_600_000
    assert window_of("yesterday", usual, ZoneInfo("UTC")) == (0, 0)
