"""A repair asked for, opened, packed and closed on several chains: the same whatever arrives first; cards; the desk."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from door_world import code_of
from loupebook.cards.cards import cards
from loupebook.repairs.tables.repairs import repair_words, serials_seen
from loupebook.rules.repair import Repair, repair_of
from story import C14, Tables, Writer, card_sources, photo, taken
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
        events = [word.event for word in repair_words(connection, [C14])[C14]]
        return repair_of(events, C14 in serials_seen(connection, [C14]))


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
    assert code_of(command("closed", over=[asked], outcome="done", reason="back")) == "changed_meanwhile"
    assert command("closed", over=[asked, opened], outcome="done", reason="back").status_code == 201
    assert server.desk.lead("repairs")["rows"] == []
    assert code_of(command("closed", over=[asked], outcome="done", reason="back")) == "changed_meanwhile"
    assert command("opened", reason="it came back bent").status_code == 201
