"""A repair asked for, opened, packed and closed on several chains: the same whatever arrives first; cards; the desk."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from door_world import code_of
from loupebook.cards.cards import cards
from loupebook.reading.board import whereabouts
from loupebook.reading.history import EVER, history
from loupebook.reading.repairs import repairs
from loupebook.record.lines import parse_line
from loupebook.repairs.tables.repairs import repair_words, told_of
from loupebook.rules.chain import judge
from loupebook.rules.chain_state import NOTHING
from loupebook.rules.repair import Loaner, Repair, stops_use
from story import C14, Tables, Writer, card_sources, lead_sources, photo, route, taken
from whole_server import WholeServer

pytestmark = pytest.mark.repair

PHONE = {"who": "moira.keld", "at": "2025-11-25T10:30:00.000Z"}


def ask(writer: Writer, words: str = "the tip lags", **more: object) -> str:
    return writer.write("repair.asked", {"words": words, **more}, inspection=False)


def state(writer: Writer, of: str, *contaminated: str, by: str = "ila.venn", **more: object) -> str:
    """What was done before it goes out."""
    body = {
        "done": [{"what": "wiped", "how": "as its instructions say"}],
        "not_done": [{"what": "disinfected", "reason": "leak_test_failed"}],
        "processed_by": by, "processed_at": "2025-11-25T10:40:00.000Z",
        "contaminated": list(contaminated), "label_on": True,
    }  # fmt: skip
    return writer.write("repair.decontaminated", body | more, about={"scope": C14, "repair": of})


def pack(writer: Writer, of: str, case: bool = True) -> str:
    body = {
        "accessories": [{"what": "vent cap", "count": 1}, {"what": "suction valve", "count": 2}],
        "contact": "Moira Keld, extension 204", "return_address": "Harrow Lake, dock, east door", "order": "55-310",
    }  # fmt: skip
    photos = [photo("case", "case")] if case else []
    return writer.write("repair.packed", body, photos, about={"scope": C14, "repair": of})


def stands(tables: Tables) -> Repair | None:
    with tables.reading() as connection:
        return told_of(connection, [C14])[C14].repair


def in_every_order(*writers: Writer) -> Repair:
    """The one answer, whichever chain comes first."""
    answers = {stands(taken(*order)) for order in itertools.permutations(writers)}
    (only,) = answers
    assert only is not None
    return only


def test_two_who_ask_on_two_tablets_meet_and_a_lead_opens_both() -> None:
    one, two, lead = Writer("Sink 1"), Writer("Sink 2", person="rin.oake"), Writer("server", person="moira.keld")
    asks = [ask(one), ask(two, "it sticks")]
    repair = in_every_order(one, two)
    assert (repair.state, sorted(repair.openers)) == ("asked", sorted(asks))
    lead.write("repair.opened", {"reason": "send it", "over": asks}, about={"scope": C14})
    assert in_every_order(one, two, lead).state == "open"


def test_a_failed_leak_test_opens_it_by_itself_until_it_is_corrected_or_taken_back() -> None:
    one = Writer("Sink 1")
    begun = one.begin("at_leak_test")
    test = one.write("reading.taken", {"what": "leak_test", "result": "bubbles", "note": "at the bending cover"})
    repair = in_every_order(one)
    assert (repair.state, repair.leak_failed, repair.openers, "words" in repair.missing) == (
        "open",
        True,
        (test,),
        False,
    )
    tables = taken(one)
    with tables.reading() as connection:
        (word,) = repair_words(connection, [C14])[C14]
    assert word.inspections == (begun,)
    one.correct(test, {"what": "leak_test", "result": "held"})
    assert stands(taken(one)) is None
    one.correct(test, {"what": "leak_test", "result": "pressure_dropped"})
    again = in_every_order(one)
    assert (again.openers, again.leak_failed) == ((test,), True)
    one.withdraw(test)
    assert stands(taken(one)) is None


def test_a_test_that_held_is_corrected_into_one_that_failed() -> None:
    one = Writer("Sink 1")
    one.begin("at_leak_test")
    test = one.write("reading.taken", {"what": "leakage_current", "result": "within_limit"})
    assert stands(taken(one)) is None
    one.correct(test, {"what": "leakage_current", "result": "over_limit"})
    assert in_every_order(one).openers == (test,)


def test_a_decision_for_repair_asks_and_that_of_a_lead_opens() -> None:
    one, lead = Writer("Sink 1"), Writer("server", person="moira.keld")
    one.begin()
    one.serial()
    ended = one.conclude("clean", "repair", tag_on=True)
    repair = in_every_order(one)
    assert (repair.state, repair.openers, "serial_photo" in repair.missing) == ("asked", (ended,), False)
    lead.write(
        "hold.decided",
        {"hold": ended, "goes": "repair", "first": "clean", "reason": "to the maker"},
        about={"scope": C14},
    )
    assert in_every_order(one, lead).state == "open"


def test_by_phone_it_is_open_and_waits_to_be_confirmed() -> None:
    one, lead = Writer("Sink 1"), Writer("server", person="moira.keld")
    asked = ask(one, phone=PHONE)
    assert (in_every_order(one).state, in_every_order(one).unconfirmed) == ("open", (asked,))
    lead.write("repair.opened", {"reason": "I said so", "over": [asked]}, about={"scope": C14})
    assert in_every_order(one, lead).unconfirmed == ()


def test_a_packet_lacks_what_nobody_said_and_is_complete_only_with_statement_and_label() -> None:
    one, two = Writer("Sink 1"), Writer("Sink 2", person="rin.oake")
    asked = ask(one, phone=PHONE)
    pack(two, asked)
    assert set(in_every_order(one, two).missing) == {"serial_photo", "decontaminated", "label"}
    said = state(one, asked, "inside", label_on=False)
    one.begin()
    one.serial()
    assert in_every_order(one, two).missing == ("label",)
    one.write(
        "entry.corrected",
        {"entry": said, "builds_on": said, "body": json.loads(one.lines[1])["body"] | {"label_on": True}},
        inspection=False,
    )
    repair = in_every_order(one, two)
    assert (repair.missing, repair.contaminated) == ((), ("inside",))


def test_the_way_back_from_a_wrong_scan_is_a_new_entry() -> None:
    one = Writer("Sink 1")
    one.withdraw(ask(one))
    assert stands(taken(one)) is None
    assert len(one.lines) == 2


def card_of(tables: Tables) -> list[dict[str, Any]]:
    with tables.reading() as connection:
        found = json.loads(json.dumps(cards(connection, card_sources(tables), "Decontamination", 0, "first")))
    return [dict(row) for row in found["repairs"]]


def test_a_card_carries_what_stands_and_leaves_out_what_a_lead_closed() -> None:
    one, lead = Writer("Sink 1"), Writer("server", person="moira.keld")
    first = ask(one)
    said = state(one, first)
    lead.write("repair.closed", {"over": [first], "outcome": "not_needed", "reason": "it works"}, about={"scope": C14})
    second = ask(one, "again")
    (row,) = card_of(taken(one, lead))
    assert [(event["entry"], event["said"]["words"]) for event in row["events"]] == [(second, "again")]
    assert {first[:16], said[:16], second[:16]} <= set(row["counted"])
    assert row["serial_photo"] is False


@pytest.fixture
def server(tmp_path: Path) -> Iterator[WholeServer]:
    server = WholeServer(tmp_path)
    yield server
    server.close()


def test_a_lead_opens_confirms_and_closes_only_what_is_there(server: WholeServer) -> None:
    """Over real HTTP. That all of it is named is the product's own rule: nothing is opened or closed unseen."""
    chain = server.desk.chain

    def command(kind: str, **body: object) -> httpx.Response:
        return server.desk.command(f"repair.{kind}", body, {"scope": C14})

    asked = ask(chain)
    assert {row["verdict"] for row in server.desk.send()} == {"counted"}
    (row,) = server.desk.lead("repairs")["rows"]
    assert (row["state"], row["openers"], row["scope"]["key"], row["is"]) == ("asked", [asked], C14, "house")
    assert code_of(command("opened", reason="send it")) == "changed_meanwhile"
    assert code_of(command("opened", reason=" ", over=[asked])) == "bad_body"
    assert code_of(server.desk.command("repair.opened", {"reason": "x", "over": [asked]})) == "bad_body"
    opened = command("opened", reason="send it", over=[asked]).json()["hash"]
    (row,) = server.desk.lead("repairs")["rows"]
    assert (row["state"], [word["what"] for word in row["words"]]) == ("open", ["asked", "opened"])
    assert code_of(command("closed", over=[asked], outcome="not_needed", reason="works")) == "changed_meanwhile"
    assert command("closed", over=[asked, opened], outcome="not_needed", reason="works").status_code == 201
    assert server.desk.lead("repairs")["rows"] == []
    assert code_of(command("closed", over=[asked], outcome="not_needed", reason="works")) == "changed_meanwhile"
    assert command("opened", reason="it came back bent").status_code == 201


def leave(writer: Writer, of: str, **more: object) -> str:
    body = {"carrier": "Grey Van", "number": "GV-7", "expected_back": "2025-12-05"} | more
    return writer.write("repair.shipped", body, about={"scope": C14, "repair": of})


def come_back(writer: Writer, of: str, over: list[str], plate: bool = True, **more: object) -> str:
    body = {"place": "Dock", "serial": "yes", "papers": True, "accessories": [], "over": over} | more
    photos = [photo("plate", "serial")] if plate else [photo("box", "other")]
    return writer.write("repair.returned", body, photos, about={"scope": C14, "repair": of})


def told(tables: Tables) -> Repair:
    with tables.reading() as connection:
        repair = told_of(connection, [C14])[C14].repair
    assert repair is not None
    return repair


def test_a_return_or_a_loan_without_a_photo_of_the_serial_number_is_put_aside() -> None:
    """The serial number first, for a repair swaps parts and loans share tags: common practice, no source."""
    one = Writer("Sink 1")
    come_back(one, "0" * 64, [], plate=False)
    loan = {"place": "Dock", "owner": "Far Bank", "instructions": True, "fits": "yes", "accessories": []}
    one.write("loaner.received", loan, inspection=False)
    gone = {"place": "Dock", "carrier": "Grey Van", "accessories": [], "over": [one.hashes[-1]]}
    one.write("loaner.sent_back", gone, inspection=False)
    read = [parse_line(line) for line in one.lines]
    verdicts = [judge(NOTHING, each.entry, each.body, "0" * 64, lambda _: None) for each in read]
    assert {verdict.reason for verdict in verdicts} == {"photo_must_show_serial"}


def test_out_back_sent_back_again_and_released_by_looks_and_processing_of_any_chain() -> None:
    """Loose ports came back from a repair (ICHE 2012): released only after acceptance, and processing after that."""
    one, two, lead = Writer("Sink 1"), Writer("Sink 2", person="rin.oake"), Writer("server", person="moira.keld")
    asked = ask(two)
    opened = lead.write("repair.opened", {"reason": "send it", "over": [asked]}, about={"scope": C14})
    steps = [state(one, asked), pack(two, asked), leave(two, asked)]
    assert told(taken(one, two, lead)).stage == "out"
    two.at += timedelta(minutes=9)
    one.at += timedelta(minutes=15)
    come_back(two, asked, steps)
    repair = told(taken(one, two, lead))
    assert (repair.stage, repair.owes, "decontaminated" in repair.missing) == ("back", ("accepted", "processed"), True)
    one.begin("acceptance")
    one.serial()
    one.conclude("nothing", "repair", tag_on=True, words="the biopsy port turns by hand")
    repair = told(taken(one, two, lead))
    assert (repair.stage, repair.bounces, len(repair.openers)) == ("open", 1, 3)
    (row,) = card_of(taken(one, two, lead))
    assert [each["said"].get("words") for each in row["events"] if each["what"] == "concluded"] == [
        "the biopsy port turns by hand"
    ]
    two.at += timedelta(minutes=10)
    one.at += timedelta(minutes=20)
    again = [state(two, asked), pack(two, asked), leave(two, asked)]
    assert told(taken(one, two, lead)).stage == "out"
    come_back(two, asked, again)
    one.begin("acceptance")
    one.serial()
    one.conclude("whole", "on")
    assert told(taken(one, two, lead)).owes == ("processed",)
    one.at += timedelta(minutes=5)
    one.write("scope.processed", {"place": "Sink 1", "machine": "W-2"}, inspection=False)
    answers = {told(taken(*order)) for order in itertools.permutations((one, two, lead))}
    (repair,) = answers
    assert (repair.stage, repair.owes, repair.bounces, opened in repair.openers) == ("ready", (), 1, True)


def test_an_old_failed_leak_test_with_a_later_one_that_held_opens_no_repair() -> None:
    """A newer test of the same part answers it, until something was built on it: the product's own rule."""
    one, two = Writer("Sink 1"), Writer("Sink 2", person="rin.oake")
    one.begin("at_leak_test")
    failed = one.write("reading.taken", {"what": "leak_test", "result": "bubbles"})
    assert stands(taken(one)) is not None
    two.at += timedelta(minutes=50)
    two.begin("at_leak_test")
    held = two.write("reading.taken", {"what": "leak_test", "result": "held"})
    for order in itertools.permutations((one, two)):
        assert stands(taken(*order)) is None
    two.correct(held, {"what": "leak_test", "result": "pressure_dropped"})
    repair = stands(taken(one, two))
    assert repair is not None and len(repair.openers) == 2
    two.withdraw(held)
    assert in_every_order(one, two).openers == (failed,)


def test_a_lead_answers_an_estimate_once_and_releases_nothing_that_still_owes_something(server: WholeServer) -> None:
    chain = server.desk.chain

    def command(kind: str, **body: object) -> httpx.Response:
        return server.desk.command(f"repair.{kind}", body, {"scope": C14})

    asked = ask(chain, phone=PHONE)
    leave(chain, asked, expected_back="2025-11-20")
    note = {"words": "new bending cover", "estimate": True, "price_minor": 184000, "currency": "EUR"}
    noted = chain.write("repair.noted", note, about={"scope": C14, "repair": asked})
    assert {row["verdict"] for row in server.desk.send()} == {"counted"}
    (row,) = server.desk.lead("repairs")["rows"]
    assert (row["stage"], row["undecided"]) == ("out", [noted])
    (late,) = server.desk.lead("today")["overdue"]
    assert (late["scope"]["key"], late["late"]) == (C14, "day")
    assert code_of(command("approved", over=[asked], approved=True, reason="yes")) == "changed_meanwhile"
    assert code_of(command("approved", over=[noted], approved=True, reason=" ")) == "bad_body"
    assert command("approved", over=[noted], approved=False, reason="too dear").status_code == 201
    assert code_of(command("approved", over=[noted], approved=True, reason="after all")) == "changed_meanwhile"
    (row,) = server.desk.lead("repairs")["rows"]
    assert (row["undecided"], row["owes"]) == ([], ["back", "serial", "accepted", "processed"])
    refused = command("closed", over=[asked], outcome="done", reason="it must be good")
    assert (code_of(refused), "it is not back" in refused.text) == ("not_released", True)
    packed = pack(chain, asked)
    come_back(chain, asked, [packed], accessories=[{"what": "vent cap", "count": 1}], swapped=["light guide plug"])
    chain.write("scope.processed", {"place": "Sink 1"}, inspection=False)
    server.desk.send()
    (row,) = server.desk.lead("repairs")["rows"]
    assert row["differs"] == [
        {"what": "accessories", "of": "suction valve", "left": 2, "came": 0},
        {"what": "swapped", "of": "light guide plug"},
    ]


def accepted(chain: Writer, goes: str = "on", **more: object) -> None:
    """A whole acceptance inspection, every part and channel with its answer."""
    parts, channels = route("acceptance")
    chain.begin("acceptance", shift=f"Harrow Lake/{chain.at.date()}/day")
    chain.serial()
    chain.mark(*parts, *channels, mark="could_not_look", reason="no_borescope")
    chain.conclude("whole", goes, **more)
    chain.begun = None


def test_from_the_return_to_the_release_nothing_is_skipped(server: WholeServer) -> None:
    """Each step that is owed is refused by name until it is done; another number is never accepted away. That a scope
    is looked at and processed in full after repair: ESGE-ESGENA position statement, 2018 (from memory)."""
    chain = server.desk.chain

    def row() -> dict[str, Any]:
        assert {each["verdict"] for each in server.desk.send()} == {"counted"}
        (only,) = server.desk.lead("repairs")["rows"]
        return dict(only)

    def release(of: dict[str, Any], outcome: str = "done") -> httpx.Response:
        body = {"over": of["openers"], "outcome": outcome, "reason": "it is good"}
        return server.desk.command("repair.closed", body, {"scope": C14})

    asked = ask(chain, phone=PHONE)
    trip = [state(chain, asked), pack(chain, asked), leave(chain, asked)]
    came = come_back(chain, asked, trip, serial="no", read="2741960", swapped=["biopsy port"])
    now = row()
    assert (now["stage"], now["owes"]) == ("back", ["serial", "accepted", "processed"])
    assert {"what": "serial", "read": "2741960"} in now["differs"]
    assert {"what": "swapped", "of": "biopsy port"} in now["differs"]

    # Acceptance sends it back, with the reason; what was sent back is made ready anew, and is counted.
    chain.begin("acceptance")
    chain.serial()
    parts, channels = route("acceptance")
    left = [{"part": part, "reason": "held_at_once"} for part in (*parts, *channels)]
    chain.conclude("nothing", "repair", tag_on=True, left=left, words="the port turns by hand")
    chain.begun = None
    now = row()
    assert (now["stage"], now["bounces"], "decontaminated" in now["missing"]) == ("open", 1, True)
    assert now["words"][-1]["said"]["words"] == "the port turns by hand"
    assert "the port turns by hand" in server.desk.browser.get(f"/repairs/{asked}/packet").text
    assert code_of(release(now)) == "not_released"

    again = [state(chain, asked), pack(chain, asked), leave(chain, asked)]
    come_back(
        chain, asked, again, accessories=[{"what": "vent cap", "count": 1}, {"what": "suction valve", "count": 2}]
    )
    now = row()
    assert (now["differs"], now["owes"], came in now["returns"]) == ([], ["accepted", "processed"], True)
    refused = release(now)
    assert "no acceptance inspection" in refused.text and "not processed" in refused.text
    chain.write("scope.processed", {"place": "Sink 1"}, inspection=False)
    assert row()["owes"] == ["accepted", "processed"], "processed before anybody had looked: it owes that again"
    accepted(chain)
    now = row()
    assert (now["stage"], now["owes"], code_of(release(now))) == ("accepted", ["processed"], "not_released")
    chain.write("scope.processed", {"place": "Sink 1"}, inspection=False)
    now = row()
    assert (now["stage"], now["owes"], now["bounces"]) == ("ready", [], 1)
    assert release(now).status_code == 201
    assert server.desk.lead("repairs")["rows"] == []


LOAN = "mms:alder|cx 180|2750061"
NUMBER = [photo("plate", "serial")]


def came_on_loan(writer: Writer, **more: object) -> str:
    body = {
        "place": "Dock", "owner": "Far Bank", "instructions": True, "fits": "yes", "until": "2025-12-24",
        "accessories": [{"what": "vent cap", "count": 1}, {"what": "suction valve", "count": 2}],
    }  # fmt: skip
    return writer.write("loaner.received", body | more, NUMBER, about={"scope": LOAN})


def test_a_loan_stands_on_cards_and_at_the_desk_until_it_left() -> None:
    """Loaners are inside the programme: HICPAC 2016, APIC 2017."""
    one = Writer("Sink 1", scope=LOAN)
    came = came_on_loan(one)
    tables = taken(one)
    (row,) = card_of(tables)
    assert [(event["what"], event["said"]["owner"]) for event in row["events"]] == [("loaner_in", "Far Bank")]
    loaner = loan_of(one)
    assert loaner is not None and (loaner.stage, loaner.came) == ("came", (came,))
    gone = {"place": "Dock", "carrier": "Grey Van", "accessories": [], "over": [came]}
    one.write("loaner.sent_back", gone, NUMBER, inspection=False)
    assert loan_of(one) is None


def loan_of(*writers: Writer) -> Loaner | None:
    """The one answer, whichever chain comes first."""
    found = []
    for order in itertools.permutations(writers):
        with taken(*order).reading() as connection:
            found.append(told_of(connection, [LOAN])[LOAN].loaner)
    assert all(each == found[0] for each in found)
    return found[0]


def test_a_loan_serves_once_nothing_is_missing_each_named_and_said_by_any_tablet() -> None:
    """Accepted and processed before use: ESGE-ESGENA 2018 (from memory); instructions and connectors: common practice,
    no source."""
    one, two = Writer("Sink 1", scope=LOAN), Writer("Dock", scope=LOAN, person="tobin.sarr")
    came = came_on_loan(two, instructions=False, fits="not_tried")

    def stands(stage: str, *owes: str) -> None:
        loaner = loan_of(one, two)
        assert loaner is not None and (loaner.stage, loaner.owes) == (stage, owes)
        assert stops_use(None, loaner) == (None if stage == "service" else "loan")

    stands("came", "instructions", "fits", "accepted", "processed")
    one.at += timedelta(minutes=5)
    one.begin("acceptance")
    one.serial()
    one.conclude("whole", "on")
    stands("accepted", "instructions", "fits", "processed")
    one.write("scope.processed", {"place": "Sink 1", "machine": "W-2"}, inspection=False)
    stands("processed", "instructions", "fits")
    two.at += timedelta(minutes=9)
    tried = two.write("loaner.noted", {"fits": "yes"}, inspection=False, basis=came)
    stands("processed", "instructions")
    one.write("loaner.noted", {"instructions": True}, inspection=False, basis=came)
    stands("service")
    two.withdraw(tried)
    stands("processed", "fits")


Rows = dict[str, dict[str, Any]]


def at_the_desk(*writers: Writer) -> tuple[Rows, Rows, Rows]:
    """Loans and repairs as the desk lists them, and the board: each by the key of its scope."""
    tables = taken(*writers)
    with tables.reading() as connection:
        sources = lead_sources(tables)
        told, where = repairs(connection, sources), whereabouts(connection, sources)
    lists = json.loads(json.dumps([told["loaners"], told["rows"], where["rows"]]))
    loans, away, board = ({row["scope"]["key"]: row for row in rows} for rows in lists)
    return loans, away, board


def test_a_loan_is_tied_to_the_scope_it_stands_in_for_and_may_go_back_once_that_is_released() -> None:
    """Both sides name each other; what it leaves with is counted against what it came with (common practice, no
    source)."""
    one, dock, lead = Writer("Sink 1"), Writer("Dock", scope=LOAN), Writer("server", person="moira.keld")
    number = {"scope_kind": "colonoscope", "serial": "2750061", "maker": "alder", "model": "CX 180"}
    dock.write("scope.registered", number, NUMBER)
    came = came_on_loan(dock)
    asked = ask(one, phone=PHONE)
    left = leave(one, asked, loaner=LOAN)
    loans, away, board = at_the_desk(one, dock)
    loan = loans[LOAN]
    assert (loan["owes"], loan["said"]["until"]) == (["accepted", "processed"], "2025-12-24")
    for side in (loan, board[LOAN]):
        assert (side["for"]["scope"]["key"], side["for"]["stage"], side["for"]["may_go_back"]) == (C14, "out", False)
    for side in (away[C14], board[C14]):
        assert [(each["scope"]["key"], each["stage"]) for each in side["instead"]] == [(LOAN, "came")]
        assert side["instead"][0]["said"] == {"owner": "Far Bank", "until": "2025-12-24"}
    dock.at += timedelta(minutes=9)
    dock.write("loaner.noted", {"stands_for": ""}, basis=came)
    loans, away, board = at_the_desk(one, dock)
    assert (loans[LOAN]["for"], board[LOAN]["for"], away[C14]["instead"]) == (None, None, [])
    dock.write("loaner.noted", {"stands_for": C14, "until": "2025-12-29"}, basis=came)
    one.at += timedelta(minutes=15)
    come_back(one, asked, [left])
    loan = at_the_desk(one, dock)[0][LOAN]
    assert (loan["for"]["stage"], loan["for"]["may_go_back"], loan["said"]["until"]) == ("back", False, "2025-12-29")
    one.begin("acceptance")
    one.serial()
    one.conclude("whole", "on")
    one.write("scope.processed", {"place": "Sink 1"}, inspection=False)
    assert at_the_desk(one, dock)[0][LOAN]["for"]["stage"] == "ready"
    lead.at = one.at
    done = {"over": [asked], "outcome": "done", "reason": "good again"}
    lead.write("repair.closed", done, about={"scope": C14})
    loans, _, board = at_the_desk(one, dock, lead)
    for side in (loans[LOAN], board[LOAN]):
        assert (side["for"]["stage"], side["for"]["may_go_back"]) == (None, True)
    carried = {row["scope"]: row["released_ms"] for row in card_of(taken(one, dock, lead))}
    assert carried[C14] > 0 == carried[LOAN]
    gone = {"place": "Dock", "carrier": "Grey Van", "accessories": [{"what": "vent cap", "count": 1}], "over": [came]}
    dock.write("loaner.sent_back", gone, NUMBER)
    assert at_the_desk(one, dock, lead)[0] == {}
    tables = taken(one, dock, lead)
    with tables.reading() as connection:
        told = history(connection, lead_sources(tables), LOAN, EVER, 100, False)
    assert told is not None
    (out,) = [row for row in told["rows"] if row.get("said") == "loaner_out"]
    assert out["differs"] == [{"what": "accessories", "of": "suction valve", "left": 2, "came": 0}]
