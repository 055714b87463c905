"""Hand-overs written on several chains: the same custody whatever arrives first, and cards to build on."""

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
from loupebook.reading.board import whereabouts
from loupebook.reading.history import EVER, history
from loupebook.reading.repairs import repairs
from loupebook.repairs.tables import custodies, custody_events, in_short
from loupebook.rules.custody import Custody, Event, Holder, custody_of
from story import C14, Tables, Writer, card_sources, lead_sources, photo, taken
from whole_server import WholeServer

pytestmark = pytest.mark.repair
RIN, TAM, ILA = (Holder("person", each) for each in ("rin.oake", "tam.fell", "ila.venn"))
KESTREL = {"kind": "outside", "name": "P. Lund", "firm": "Kestrel Post", "waybill": "LX 40771 2"}


def person(holder: Holder) -> dict[str, str]:
    return {"kind": "person", "name": holder.name}


def offer(writer: Writer, to: dict[str, str] | None = None, basis: str | None = None) -> str:
    body = {"place": "Decontamination"} | ({"to": to} if to else {})
    return writer.write("custody.offered", body, inspection=False, basis=basis)


def take(writer: Writer, basis: str, holder: dict[str, str] | None = None) -> str:
    body = {"place": "Decontamination", "holder": holder or person(Holder("person", writer.person))}
    return writer.write("custody.accepted", body, inspection=False, basis=basis)


def custody(tables: Tables) -> Custody:
    with tables.reading() as connection:
        return custodies(connection, [C14])[C14]


def in_every_order(*writers: Writer) -> Custody:
    """The one answer, whichever chain comes first."""
    answers = {custody(taken(*order)) for order in itertools.permutations(writers)}
    (only,) = answers
    return only


def test_given_and_taken_on_two_tablets() -> None:
    giver, taker = Writer("Sink 1", person=RIN.name), Writer("Sink 2", person=TAM.name)
    offered = offer(giver, person(TAM))
    assert (in_every_order(giver).state, in_every_order(giver).holder) == ("offered", RIN)
    accepted = take(taker, offered)
    held = in_every_order(giver, taker)
    assert (held.state, held.holder, held.tips) == ("held", TAM, (accepted,))


def test_the_photo_of_what_a_courier_took_is_seen_at_the_desk_and_named_alone_while_it_is_hidden() -> None:
    """On the board, in the scope's history, and beside the repair that stands; a photo that may show a person is hidden
    from everybody until a lead shows it again."""
    giver, lead = Writer("Sink 1", person=RIN.name), Writer("server", person="moira.keld")
    phone = {"who": "moira.keld", "at": "2025-11-25T10:00:00.000Z"}
    known = {"scope_kind": "colonoscope", "serial": "2741906", "maker": "alder", "model": "CX 180"}
    giver.write("scope.registered", known, [photo("plate", "serial")], inspection=False)
    giver.write("repair.asked", {"words": "it lags", "phone": phone}, inspection=False)
    shot = photo("case in his hands", "other")
    sha256 = str(shot["sha256"])
    body = {"place": "Dock", "holder": KESTREL}
    took = giver.write("custody.accepted", body, [shot], inspection=False, basis=offer(giver, KESTREL))

    def shown(here: bool = True) -> list[dict[str, Any]]:
        """The photo as each of the three pages has it: all the same."""
        tables = taken(giver, lead)
        sources = lead_sources(tables, here=[sha256] if here else [])
        with tables.reading() as connection:
            (where,) = whereabouts(connection, sources)["rows"]
            (repair,) = repairs(connection, sources)["rows"]
            told = history(connection, sources, C14, EVER, 100, False)
        assert told is not None
        (tip,), (handed,) = where["tips"], repair["handed"]
        (row,) = [each for each in told["rows"] if each["entry"] == took]
        assert (handed["person"], handed["holder"]["name"]) == (RIN.name, "P. Lund")
        assert (handed["firm"], handed["waybill"]) == ("Kestrel Post", "LX 40771 2")
        assert tip["photos"] == handed["photos"] == row["photos"]
        return list(row["photos"])

    assert shown() == [{"sha256": sha256, "here": True, "restricted": False, "erased": False}]
    assert shown(here=False)[0]["here"] is False
    hid = giver.write("photo.restricted", {"photo": sha256}, inspection=False)
    assert shown()[0]["restricted"] is True
    lead.write("photo.shown_again", {"photo": sha256, "hidden": [hid], "reason": "a glove"}, about={"scope": C14})
    assert shown()[0]["restricted"] is False
    giver.withdraw(took)
    with taken(giver, lead).reading() as connection:
        (repair,) = repairs(connection, lead_sources(taken(giver, lead)))["rows"]
    assert repair["handed"] == []


def test_two_who_took_the_same_are_disputed_until_a_lead_says_who_has_it() -> None:
    giver, one, two = (Writer(f"Sink {n}", person=each.name) for n, each in enumerate((RIN, TAM, ILA)))
    offered = offer(giver)
    tips = sorted([take(one, offered), take(two, offered)])
    disputed = in_every_order(giver, one, two)
    assert (disputed.state, disputed.holder, disputed.why, list(disputed.tips)) == (
        "disputed",
        None,
        "two_on_one",
        tips,
    )
    desk = Writer("server", person="lea.moss")
    desk.write(
        "custody.settled", {"over": tips, "holder": person(TAM), "reason": "Tam has it in hand"}, inspection=False
    )
    assert in_every_order(giver, one, two, desk).holder == TAM


def test_an_offer_taken_back_while_it_was_taken_elsewhere_is_disputed() -> None:
    giver, taker = Writer("Sink 1", person=RIN.name), Writer("Sink 2", person=TAM.name)
    offered = offer(giver)
    back = giver.write("entry.withdrawn", {"entry": offered}, inspection=False)
    assert in_every_order(giver).holder == Holder("house")
    accepted = take(taker, offered)
    assert in_every_order(giver, taker).tips == tuple(sorted([back, accepted]))


def test_a_wrong_scan_is_undone_and_a_wrong_name_corrected() -> None:
    giver = Writer("Sink 1", person=RIN.name)
    offered = offer(giver, KESTREL)
    accepted = take(giver, offered, KESTREL)
    assert in_every_order(giver).holder == Holder("outside", "P. Lund")
    body = {"place": "Decontamination", "holder": KESTREL | {"name": "P. Lunn"}}
    giver.write(
        "entry.corrected", {"entry": accepted, "builds_on": accepted, "body": body, "reason": "typed"}, inspection=False
    )
    assert in_every_order(giver).holder == Holder("outside", "P. Lunn")
    giver.write("entry.withdrawn", {"entry": accepted, "reason": "undo"}, inspection=False)
    undone = in_every_order(giver)
    assert (undone.state, undone.holder, undone.to) == ("offered", RIN, Holder("outside", "P. Lund"))


def test_it_comes_back_into_the_hands_of_who_wrote_so() -> None:
    giver, taker = Writer("Sink 1", person=RIN.name), Writer("Sink 2", person=TAM.name)
    gone = take(giver, offer(giver, KESTREL), KESTREL)
    taker.write("custody.returned", {"place": "Dock", "by": KESTREL}, inspection=False, basis=gone)
    assert in_every_order(giver, taker).holder == TAM


def card_of(tables: Tables) -> list[dict[str, Any]]:
    with tables.reading() as connection:
        found = json.loads(json.dumps(cards(connection, card_sources(tables), "Decontamination", 0, "first")))
    return [dict(row) for row in found["custody"]]


def as_events(row: dict[str, Any]) -> list[Event]:
    return [
        Event(**{**each, "holder": Holder(**each["holder"]), "over": tuple(each["over"])}) for each in row["events"]
    ]


def test_a_card_says_who_has_it_in_as_few_events_as_do_and_can_be_built_on() -> None:
    writer = Writer("Sink 1", person=RIN.name)
    basis: str | None = None
    for nth in range(12):
        writer.person = (RIN, TAM)[nth % 2].name
        offered = offer(writer, person((TAM, RIN)[nth % 2]), basis)
        writer.person = (TAM, RIN)[nth % 2].name
        basis = take(writer, offered)
    tables = taken(writer)
    (row,) = card_of(tables)
    assert len(row["events"]) == 1 < len(writer.lines)
    known = as_events(row)
    assert (custody_of(known).holder, custody_of(known).tips) == (custody(tables).holder, custody(tables).tips)
    more = Event("f" * 64, "offered", custody_of(known).tips[0], RIN.name, 1)
    with tables.reading() as connection:
        whole = custody_events(connection, [C14])[C14]
    assert custody_of([*known, more]).state == custody_of([*whole, more]).state == "offered"
    late = Event("e" * 64, "declined", offered, TAM.name, 1)
    assert custody_of([*whole, late]).state == "disputed"
    assert len(in_short([*whole, late])) == len(whole) + 1


def test_a_scope_that_was_never_handed_over_has_no_card_of_it() -> None:
    writer = Writer("Sink 1")
    writer.begin()
    assert card_of(taken(writer)) == []


@pytest.fixture
def server(tmp_path: Path) -> Iterator[WholeServer]:
    server = WholeServer(tmp_path)
    yield server
    server.close()


def test_a_lead_settles_only_the_dispute_that_is_there(server: WholeServer) -> None:
    """Over real HTTP. That all tips are named is the product's own rule: nothing is settled unseen."""
    chain = server.desk.chain
    offered = offer(chain)
    one = take(chain, offered, {"kind": "place", "name": "Decontamination"})
    two = chain.write("custody.declined", {"reason": "wrong_scope"}, inspection=False, basis=offered)
    assert {row["verdict"] for row in server.desk.send()} == {"counted"}

    def settle(*over: str, reason: str = "it lies there") -> httpx.Response:
        body = {"over": list(over), "holder": {"kind": "place", "name": "Decontamination"}, "reason": reason}
        return server.desk.command("custody.settled", body, {"scope": C14})

    assert code_of(settle(one)) == "changed_meanwhile"
    assert code_of(settle(one, two, reason=" ")) == "bad_body"
    assert settle(one, two).status_code == 201
    assert code_of(settle(one, two)) == "changed_meanwhile"


def test_the_desk_lists_where_scopes_are_those_in_doubt_first(server: WholeServer) -> None:
    chain = server.desk.chain
    offered = offer(chain)
    assert {row["verdict"] for row in server.desk.send()} == {"counted"}
    (row,) = server.desk.lead("where")["rows"]
    assert (row["is"], row["holder"], row["scope"]["key"]) == (
        "offered",
        {"kind": "person", "name": chain.person},
        C14,
    )
    take(chain, offered, {"kind": "place", "name": "Decontamination"})
    chain.write("custody.declined", {"reason": "wrong_scope"}, inspection=False, basis=offered)
    assert {row["verdict"] for row in server.desk.send()} == {"counted"}
    told = server.desk.lead("where")
    (row,) = told["rows"]
    assert (row["is"], row["why"], told["counts"]) == ("disputed", "two_on_one", {"disputed": 1})
    assert sorted(tip["what"] for tip in row["tips"]) == ["accepted", "declined"]
    assert [tip["reason"] for tip in row["tips"] if tip["what"] == "declined"] == ["wrong_scope"]
    assert server.desk.lead("where?find=Z-99")["rows"] == []


def test_what_was_taken_off_a_screen_counts_before_the_offer_comes_and_the_board_says_so(server: WholeServer) -> None:
    """The giver's tablet has not sent; its offer's own hash is named. The product's own rule: nothing is lost."""
    chain = server.desk.chain
    offer_of_another = "ab" * 32
    shown = {"chain": "cd" * 32, "seq": 7, "giver": "tobin.sarr", "at_ms": 1764150000000}
    holder = {"kind": "person", "name": chain.person}
    body = {"place": "Decontamination", "holder": holder, "offer": shown}
    taken = chain.write("custody.accepted", body, inspection=False, basis=offer_of_another)
    assert {row["verdict"] for row in server.desk.send()} == {"counted"}
    (row,) = server.desk.lead("where")["rows"]
    assert (row["is"], row["holder"], [tip["entry"] for tip in row["tips"]]) == ("person", holder, [taken])
    assert row["unseen"] == [{"giver": "tobin.sarr", "at_ms": 1764150000000}]
    (card,) = server.desk.browser.get("/cards?since=0").json()["custody"]
    assert [event["what"] for event in card["events"]] == ["settled"] and card["counted"] == [taken[:16]]
    # What builds on words that have not come waits, and its tablet goes on saying it.
    waits = chain.write(
        "custody.accepted", {**body, "offer": {**shown, "on": "ef" * 32}}, inspection=False, basis="12" * 32
    )
    assert {row["verdict"] for row in server.desk.send()} == {"counted"}
    (row,) = server.desk.lead("where")["rows"]
    assert (row["holder"], row["waiting"]) == (holder, 1)
    (card,) = server.desk.browser.get("/cards?since=0").json()["custody"]
    assert waits[:16] not in card["counted"]


def test_the_board_says_where_a_scope_is_by_the_newest_of_custody_cycle_hold_and_loan(server: WholeServer) -> None:
    chain = server.desk.chain

    def now() -> tuple[str, int]:
        assert {row["verdict"] for row in server.desk.send()} == {"counted"}
        told = server.desk.lead("where")
        (row,) = told["rows"]
        assert told["counts"] == {row["is"]: 1}
        return row["is"], row["since_ms"]

    chain.write("scope.received", {"place": "Decontamination", "pre_clean": "yes"}, inspection=False)
    assert now()[0] == "cleaning"
    chain.write("scope.processed", {"place": "Decontamination"}, inspection=False)
    assert now()[0] == "drying"
    chain.write("scope.hung", {"place": "Cabinet 2"}, inspection=False)
    hung, since = now()
    assert (hung, server.desk.lead("where")["rows"][0]["place"]) == ("hung", "Cabinet 2") and since > 0
    chain.write("scope.taken", {"place": "Room 1"}, inspection=False)
    assert now()[0] == "taken"
    offered = offer(chain)
    assert now()[0] == "offered"
    take(chain, offered, {"kind": "outside", "name": "Grey Van"})
    assert now()[0] == "outside"
    heard = {"who": chain.person, "at": "2025-11-25T09:40:00.000Z"}
    asked = chain.write("repair.asked", {"words": "it lags", "phone": heard}, inspection=False)
    shipped = {"carrier": "Grey Van", "expected_back": "2030-01-02"}
    chain.write("repair.shipped", shipped, about={"scope": C14, "repair": asked})
    assert now()[0] == "shipped"
    assert server.desk.lead("where")["rows"][0]["repair"] == {"stage": "out"} | shipped
    chain.write("hold.placed", {"reason": "doubt", "tag_on": True}, inspection=False)
    assert now()[0] == "hold"
