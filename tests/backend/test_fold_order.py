"""Folds: any interleaving that keeps each chain's order ends in the same rows, and no counted entry stops a fold."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from loupebook.inspections.tables.cycle import cycle_events
from loupebook.record.kinds import ShiftCounts
from loupebook.rules.cycle import stand_of
from loupebook.scopes.tables.values import ms_of
from story import C14, SHIFT, Tables, Writer, photo, taken

pytestmark = pytest.mark.sink

SIX = ("not_looked", "nothing_found", "finding", "could_not_look", "not_due", "none_here")
SHIFT_COUNTS = [name for name in ShiftCounts.__struct_fields__ if name != "parts"]


def two_tablets_and_the_server() -> list[Writer]:
    """One scope on two tablets, corrections, things taken back, a photo hidden, holds and their decisions."""
    one, two = Writer("sink 1"), Writer("sink 2", person="rin.oake", ahead_ms=900_000)
    server = Writer("server", person="moira.keld")
    registration = {"scope_kind": "colonoscope", "serial": "2741906", "tag": "C-14", "codes": ["X1", "X1"]}
    registered = one.write("scope.registered", registration)
    root = one.begin()
    one.serial()
    one.mark("band_tip", "lens", "lens")
    undone = one.mark("knobs")
    one.withdraw(undone)
    seen = one.find("band_tip", "band_chip", [photo("band"), photo("band")])
    one.correct(seen, {"part": "band_tip", "finding": "band_lift", "grade": "minor", "since": "same"})
    band = str(photo("band")["sha256"])
    arrow = {"photo": band, "tail": {"x": 100, "y": 100}, "tip": {"x": 4000, "y": 5000}}
    pointed = one.write("photo.marked", {"photo": band, "arrows": [arrow]})
    one.correct(pointed, {"photo": band, "rings": [{"photo": band, "x": 4000, "y": 5000, "r": 600}]})
    registered_tool = one.write("tool.registered", {"what": "borescope", "place": "Sinks"}, about={"tool": "B-3"})
    one.correct(registered_tool, {"what": "borescope", "place": "Sinks", "width_um": 1900})
    one.write("tool.processed", {"place": "Sinks"}, about={"tool": "B-3"})
    run = one.write("channel.looked", {"channel": "ch_suction", "outcome": "blocked", "reason": "no_tool"})
    one.correct(run, {"channel": "ch_suction", "outcome": "through", "reached_mm": 400, "known": "read_off"})
    ended = one.conclude("clean", "hold", tag_on=False)
    one.withdraw(ended)
    again = one.conclude("clean", "on", suggested_goes="hold")
    one.correct(again, one_body("clean", "repair"))
    two.write("scope.registered", registration | {"tag": "C-15"})
    two.begin(continues=root)
    two.serial("no")
    two.mark("lens", mark="could_not_look", reason="too_wet")
    placed = two.write("hold.placed", {"reason": "doubt", "tag_on": False})
    hid = two.write("photo.restricted", {"photo": photo("band")["sha256"]})
    two.write("reading.taken", {"what": "leak_test", "result": "bubbles", "parts": ["bending_cover"]})
    two.write("inspection.abandoned", {"reason": "interrupted"})
    came = one.write(
        "scope.received", {"place": "Sink 1", "procedure_end": "2025-11-25T09:58:00.000Z"}, inspection=False
    )
    one.correct(came, {"place": "Sink 1", "pre_clean": "no"})
    two.at += timedelta(minutes=45)
    one.at += timedelta(minutes=45)
    begun = {"place": "Sink 2", "of": came, "cleaning_begun": "2025-11-25T10:20:00.000Z"}
    two.write("scope.received", begun, inspection=False)
    two.write("scope.processed", {"place": "Sink 2", "machine": "W-2", "cycle": "3107"}, inspection=False)
    one.withdraw(one.write("scope.hung", {"place": "Cabinet 1"}, inspection=False))
    two.write("scope.hung", {"place": "Cabinet 2"}, inspection=False)
    one.write("scope.taken", {"place": "Room 3"}, inspection=False)
    here = {"place": "Sink 1"}
    held_out = one.write("custody.offered", here, inspection=False)
    one.correct(held_out, here | {"note": "to the dock"})
    took = two.write(
        "custody.accepted", here | {"holder": {"kind": "person", "name": "tam.fell"}}, inspection=False, basis=held_out
    )
    one.withdraw(held_out)
    two.write("custody.declined", {"reason": "wrong_scope"}, inspection=False, basis=took)
    asked = one.write("repair.asked", {"words": "the tip lags"}, inspection=False)
    one.correct(asked, {"words": "the tip lags and sticks"})
    two.write("repair.packed", packing(), [photo("case", "case")], inspection=False)
    server.write("repair.opened", {"reason": "send it", "over": [asked]}, about={"scope": C14})
    left = one.write("repair.shipped", {"carrier": "Grey Van", "number": "7"}, inspection=False)
    one.correct(left, {"carrier": "Grey Van", "number": "8"})
    noted = two.write("repair.noted", {"words": "new cover", "estimate": True}, inspection=False)
    approved = {"over": [noted], "approved": True, "reason": "within the budget"}
    server.write("repair.approved", approved, about={"scope": C14})
    back = {"place": "Sink 2", "serial": "yes", "papers": True, "accessories": [], "over": [left]}
    two.write("repair.returned", back, [photo("serial back", "serial")], inspection=False)
    loan = {"place": "Sink 1", "owner": "Far Bank", "instructions": True, "fits": "yes", "accessories": []}
    came = one.write("loaner.received", loan, [photo("serial loan", "serial")], inspection=False)
    two.write("loaner.noted", {"fits": "no", "stands_for": C14}, inspection=False, basis=came)
    gone = {"place": "Sink 1", "carrier": "Grey Van", "accessories": [], "over": [came]}
    one.write("loaner.sent_back", gone, [photo("serial loan out", "serial")], inspection=False)
    two.write("custody.returned", here, inspection=False, basis=took)
    settled = {"over": [held_out], "holder": {"kind": "place", "name": "Sink 1"}, "reason": "it lies there"}
    server.write("custody.settled", settled, inspection=False)
    about = {"scope": C14}
    one_plate, two_plate = (photo(f"serial {writer.name} {at}", "serial") for writer, at in ((one, 2), (two, 2)))
    read = server.read_again(str(one_plate["sha256"]), root)
    server.read_again(str(two_plate["sha256"]), str(two.begun))
    band = str(photo("band")["sha256"])
    server.write("photo.opened", {"photo": band, "reason": "is it a face"}, about=about)
    server.write("photo.shown_again", {"photo": band, "hidden": [hid], "reason": "a glove"}, about=about)
    server.write("photo.hidden", {"photo": band}, about=about)
    wish = server.write("photo.erasure_asked", {"photo": band, "reason": "a face"}, about=about)
    server.write("photo.erased", {"photo": band, "asked": wish}, about=about)
    example = {"photo": band, "finding": "band_chip", "grade": "moderate"}
    shown = server.write("example.chosen", example, about=about)
    server.write("example.withdrawn", {"example": shown, "reason": "another is clearer"}, about=about)
    for hold, goes in ((placed, "hold"), (again, "on"), (placed, "on"), (registered, "on"), (read, "on")):
        server.write("hold.decided", {"hold": hold, "goes": goes, "first": "clean", "reason": "seen"}, about=about)
    phone = {"who": "moira.keld", "at": "2025-11-25T11:00:00.000Z"}
    call = {"hold": placed, "goes": "on", "first": "nothing", "words": "an old mark", "phone": phone}
    phoned = one.write("hold.phoned", call, inspection=False)
    one.correct(phoned, call | {"goes": "hold"})
    confirmed = {"hold": placed, "goes": "hold", "first": "clean", "reason": "as said", "over": [phoned]}
    server.write("hold.decided", confirmed, about=about)
    brought = server.write("hold.escalated", {"hold": placed, "to": ["biomed"], "words": "how deep?"}, about=about)
    advice = {"hold": placed, "over": [brought], "by": "biomed", "words": "send it out"}
    server.write("hold.advised", advice, about=about)
    wanted = {"what": "look_again", "of": root, "reason": "in better light", "to": "rin.oake", "not_by": ["ila.venn"]}
    look = server.write("work.asked", wanted, about=about)
    one.write("work.answered", {"asked": look, "did": "done"}, inspection=False)
    done = two.write("work.answered", {"asked": look, "did": "done"}, inspection=False)
    two.correct(done, {"asked": look, "did": "not_done", "words": "no time"})
    two.withdraw(two.write("work.answered", {"asked": look, "did": "done"}, inspection=False))
    server.write("work.dropped", {"asked": look, "reason": "sent out"}, about=about)
    server.write(
        "scope.described",
        {
            "scope_kind": "colonoscope",
            "serial": "2741906",
            "tag": "C-14",
            "none_here": ["jet_outlet"],
            "codes": ["C14"],
            "channels": [{"channel": "ch_instrument", "inner_um": 3700, "length_mm": 1820}],
            "instructions": {"title": "Instructions of C-14", "edition": "4"},
        },
        about=about,
    )
    server.write("retention.set", {"reason": "as the law asks", "years": 10}, inspection=False)
    shift = {"shift": SHIFT}
    answer = {"sort": "hold", "of": placed, "answer": "carried", "owner": "rin.oake"}
    server.write("shift.answered", answer, about=shift)
    closing = server.write("shift.closed", closing_of([placed, again]), about=shift)
    server.write("shift.closed", closing_of([again], answer="without"), about=shift)
    server.write("shift.added", {"closing": closing, "entries": [held_out, held_out]}, about=shift)
    return [one, two, server]


def closing_of(of: list[str], answer: str = "carried") -> dict[str, object]:
    """A closing's body: holds that go on to the next shift, or that it is closed without."""
    counts = dict.fromkeys(SHIFT_COUNTS, 0) | {"parts": dict.fromkeys(SIX, 0)}
    left = {"sort": "hold", "answer": answer, "of": of, "count": len(of), "owner": "rin.oake"}
    return {
        "begins": "2025-11-25T06:00:00.000Z", "ends": "2025-11-25T14:00:00.000Z", "meaning": "reviewed",
        "counts": counts, "came": {"count": 0, "how": "scans", "looked": 0}, "exceptions": [left],
        "heads": [],
    }  # fmt: skip


def packing() -> dict[str, object]:
    return {"accessories": [{"what": "vent cap", "count": 1}], "contact": "Moira Keld", "return_address": "Harrow Lake"}


def one_body(first: str, goes: str) -> dict[str, object]:
    return {
        "first": first, "goes": goes, "suggested_first": first, "suggested_goes": goes, "rows": [],
        "counts": dict.fromkeys(SIX, 1),
    }  # fmt: skip


CHAINS = two_tablets_and_the_server()
IN_TURN = taken(*CHAINS).rows()
NOON_MS = ms_of("2025-11-25T12:00:00.000Z")
with taken(*CHAINS).reading() as _connection:
    STANDS_AT = stand_of(cycle_events(_connection, [C14])[C14], NOON_MS)


@given(st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_order_that_keeps_each_chain_folds_to_the_same_rows(chance: random.Random) -> None:
    waiting = [list(writer.lines) for writer in CHAINS]
    mixed = []
    while any(waiting):
        mixed.append(chance.choice([lines for lines in waiting if lines]).pop(0))
    tables = Tables()
    tables.take(mixed)
    assert tables.rows() == IN_TURN
    with tables.reading() as connection:
        assert stand_of(cycle_events(connection, [C14])[C14], NOON_MS) == STANDS_AT


def test_every_table_is_reached_by_the_story() -> None:
    story = Tables()
    for writer in CHAINS:
        story.take(writer.lines)
    assert [name for name, rows in story.rows().items() if not rows] == []


def test_the_story_ends_taken_out_with_its_disinfection_and_the_time_since() -> None:
    """Two is 15 minutes ahead by its own clock, so its steps count 15 minutes earlier than they say."""
    assert STANDS_AT.phase == "taken"
    assert STANDS_AT.disinfected is not None and STANDS_AT.disinfected.cycle == "3107"
    assert STANDS_AT.stored_ms is not None and STANDS_AT.disinfected.at_ms < STANDS_AT.stored_ms


def stands(tables: Tables, table: str, what: str) -> list[object]:
    with tables.reading() as connection:
        rows = connection.exec_driver_sql(
            f"SELECT d.{what} FROM {table} d JOIN acts a ON a.version = d.version "
            "WHERE a.replaced_by IS NULL AND a.withdrawn_by IS NULL ORDER BY 1"
        )
        return [row[0] for row in rows]


def test_a_withdrawn_decision_opens_the_part_again_and_its_hold_is_gone() -> None:
    one = Writer("sink 1")
    one.begin()
    one.serial()
    one.withdraw(one.conclude("nothing", "hold"))
    tables = taken(one)
    assert stands(tables, "endings", "goes") == []
    assert stands(tables, "holds", "cause") == []


def test_a_correction_replaces_the_whole_body_and_the_first_hash_stays() -> None:
    one = Writer("sink 1")
    one.begin()
    one.serial()
    zone = one.mark("tube_1", "tube_2", "tube_3", zone="tube")
    newer = one.correct(zone, {"mark": "could_not_look", "parts": ["tube_2"], "reason": "too_wet"})
    last = one.correct(zone, {"mark": "could_not_look", "parts": ["tube_3"], "reason": "too_wet"}, newer)
    tables = taken(one)
    assert stands(tables, "part_marks", "part") == ["tube_3"]
    with tables.reading() as connection:
        rows = connection.exec_driver_sql("SELECT version, entry, kind, builds_on FROM acts WHERE entry <> version")
        assert set(rows) == {(newer, zone, "part.marked", zone), (last, zone, "part.marked", newer)}


def test_taking_back_a_corrected_entry_takes_back_all_its_versions() -> None:
    one = Writer("sink 1")
    one.begin()
    one.serial()
    seen = one.find("lens", "film")
    one.correct(seen, {"part": "lens", "finding": "lens_scratch", "grade": "present", "since": "new"})
    one.withdraw(seen)
    assert stands(taken(one), "findings", "finding") == []


def test_a_correction_lands_only_in_the_table_of_what_it_corrects() -> None:
    """Bodies of two kinds can look alike: an abandoned inspection and a hold both have a reason and a note."""
    one = Writer("sink 1")
    one.begin()
    one.correct(one.write("inspection.abandoned", {"reason": "other"}), {"reason": "interrupted", "tag_on": True})
    tables = taken(one)
    assert stands(tables, "endings", "reason") == ["interrupted"]
    assert tables.rows()["holds"] == []


@pytest.mark.parametrize(
    "at", ["2025-02-31T25:99:00.000Z", "0000-01-01T00:00:00.000Z", "9999-12-31T23:59:59.999-23:59"]
)
def test_a_moment_no_calendar_has_stops_nothing(at: str) -> None:
    from loupebook.scopes.tables.values import ms_of

    assert isinstance(ms_of(at), int)


def test_a_shift_names_its_place() -> None:
    tables = taken(CHAINS[0])
    assert stands(tables, "inspection_parts", "place") == [SHIFT.split("/")[0]]
    assert tables.rows()["scope_seen"][0][:2] == ("Harrow Lake", C14)
