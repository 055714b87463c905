"""What may go wrong when scopes are handed over, against the real log over HTTP: each is told, and none is lost.

What is right in each case is the product's own rule: who has a scope follows from what builds on what, never from a
clock or from who arrived first.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from sink_tablet import SinkTablet
from story import C14, route
from whole_server import WholeServer

pytestmark = pytest.mark.repair

VAN = {"kind": "outside", "name": "Grey Van"}
HEARD = "2025-11-25T10:30:00.000Z"


@pytest.fixture
def server(tmp_path: Path) -> Iterator[WholeServer]:
    server = WholeServer(tmp_path)
    yield server
    server.close()


def offer(tablet: SinkTablet, to: dict[str, str] | None = None, basis: str | None = None) -> str:
    body = {"place": "Dock"} | ({"to": to} if to else {})
    return tablet.chain.write("custody.offered", body, inspection=False, basis=basis)


def take(tablet: SinkTablet, basis: str, holder: dict[str, str] | None = None, **more: object) -> str:
    body = {"place": "Dock", "holder": holder or {"kind": "person", "name": tablet.chain.person}} | more
    return tablet.chain.write("custody.accepted", body, inspection=False, basis=basis)


def sent(*tablets: SinkTablet) -> None:
    """All of it counts: nothing that people say of who has a scope is put aside."""
    for tablet in tablets:
        assert {row["verdict"] for row in tablet.send()} == {"counted"}


def where(server: WholeServer) -> dict[str, Any]:
    (row,) = server.desk.lead("where")["rows"]
    return dict(row)


def settle(server: WholeServer, row: dict[str, Any], person: str) -> httpx.Response:
    body = {
        "over": [tip["entry"] for tip in row["tips"]],
        "holder": {"kind": "person", "name": person},
        "reason": "seen",
    }
    return server.desk.command("custody.settled", body, {"scope": C14})


def test_two_tablets_without_a_network_take_the_same_offer(server: WholeServer) -> None:
    one, two = server.tablet("Sink 2"), server.tablet("Sink 3")
    offered = offer(server.desk)
    sent(server.desk)
    taken = [take(each, offered) for each in (one, two)]
    sent(one)
    assert where(server)["holder"]["name"] == one.chain.person
    sent(two)
    row = where(server)
    assert (row["is"], row["why"], {tip["entry"] for tip in row["tips"]}) == ("disputed", "two_on_one", set(taken))
    # Whoever goes on in a dispute, says nothing by it; a lead does, and only over both.
    offer(two, basis=taken[1])
    sent(two)
    assert where(server)["is"] == "disputed"
    assert settle(server, where(server), two.chain.person).status_code == 201
    assert (where(server)["is"], where(server)["holder"]["name"]) == ("person", two.chain.person)


def test_an_offer_is_taken_back_while_it_is_taken_elsewhere(server: WholeServer) -> None:
    taker = server.tablet("Sink 2")
    offered = offer(server.desk)
    sent(server.desk)
    server.desk.chain.write("entry.withdrawn", {"entry": offered}, inspection=False)
    take(taker, offered)
    sent(taker, server.desk)
    row = where(server)
    assert (row["is"], {tip["what"] for tip in row["tips"]}) == ("disputed", {"accepted", "taken_back"})
    # Nobody but its own tablet takes a word back: another's is put aside, and changes nothing.
    taker.chain.write("entry.withdrawn", {"entry": offered}, inspection=False)
    assert [each["reason"] for each in taker.send()] == ["target_not_here"]
    assert where(server)["tips"] == row["tips"]


def test_one_person_on_both_sides_is_told_on_one_tablet_and_on_two(server: WholeServer) -> None:
    """A badge is one account: `LB1:P:` and its id. Two accounts of one person are two persons to the record."""
    other = server.tablet("Sink 2")
    other.chain.person = server.desk.chain.person
    offered = offer(server.desk)
    shown = {"chain": server.desk.chain.chain, "seq": 1, "giver": server.desk.chain.person, "at_ms": 1764150000000}
    take(other, offered, offer=shown)
    sent(other)  # read off the screen, before the offer itself came
    row = where(server)
    assert (row["is"], row["why"]) == ("disputed", "same_person")
    sent(server.desk)
    assert (where(server)["is"], where(server)["why"]) == ("disputed", "same_person")


def test_a_clock_that_is_a_day_ahead_moves_nothing_out_of_its_order(server: WholeServer) -> None:
    ahead, taker = server.tablet("Sink 2"), server.tablet("Sink 3")
    ahead.chain.at += timedelta(days=1)
    offered = offer(ahead)
    sent(ahead)
    take(taker, offered)
    sent(taker)
    row = where(server)
    assert (row["is"], row["holder"]["name"]) == ("person", taker.chain.person), "what builds on it, by whatever clock"
    offered = offer(taker, basis=row["tips"][0]["entry"])
    sent(taker)
    take(ahead, offered)
    sent(ahead)
    row = where(server)
    now_ms = datetime.now(UTC).timestamp() * 1000
    assert row["holder"]["name"] == ahead.chain.person and row["since_ms"] <= now_ms, "no later than it was heard of"
    taker.chain.at = datetime.now(UTC)
    taker.chain.write("scope.received", {"place": "Dock"}, inspection=False)
    sent(taker)
    assert where(server)["is"] == "cleaning", "a step that came after it says where it is"


def asked(tablet: SinkTablet, lead: str) -> str:
    return tablet.chain.write(
        "repair.asked", {"words": "it lags", "phone": {"who": lead, "at": HEARD}}, inspection=False
    )


def step(tablet: SinkTablet, kind: str, of: str, **body: object) -> str:
    photos = [tablet.photo("SN", "serial")] if kind == "returned" else []
    return tablet.chain.write(f"repair.{kind}", body, photos, about={"scope": C14, "repair": of})


def stated(tablet: SinkTablet, of: str) -> str:
    return step(
        tablet, "decontaminated", of, done=[], not_done=[], processed_by=tablet.chain.person, processed_at=HEARD,
        contaminated=[], label_on=True,
    )  # fmt: skip


def back(tablet: SinkTablet, of: str, *over: str) -> str:
    return step(tablet, "returned", of, place="Dock", serial="yes", papers=True, accessories=[], over=list(over))


def repairs(server: WholeServer) -> list[dict[str, Any]]:
    return list(server.desk.lead("repairs")["rows"])


def test_a_tablet_that_was_away_ends_the_trip_it_knew_and_not_the_next(server: WholeServer) -> None:
    stale, runs = server.tablet("Sink 2"), server.desk
    of = asked(runs, server.lead)
    first = step(runs, "shipped", of, carrier="Grey Van")
    out = offer(runs, VAN)
    took = take(runs, out, VAN)
    sent(runs)
    back(runs, of, first)
    here = runs.chain.write("custody.returned", {"place": "Dock"}, inspection=False, basis=took)
    second = step(runs, "shipped", of, carrier="Blue Van")
    again = take(runs, offer(runs, VAN, basis=here), VAN)
    sent(runs)
    back(stale, of, first)
    stale.chain.write("custody.returned", {"place": "Dock"}, inspection=False, basis=took)
    sent(stale)
    (row,) = repairs(server)
    assert (row["stage"], row["shipments"]) == ("out", [second]), "the second trip goes on"
    now = where(server)
    assert now["is"] == "disputed" and again in [tip["entry"] for tip in now["tips"]], "and a lead is asked who has it"


def test_what_was_declined_goes_to_a_courier_by_an_offer_of_its_own_alone(server: WholeServer) -> None:
    giver, tam = server.desk, server.tablet("Sink 2")
    offered = offer(giver, {"kind": "person", "name": tam.chain.person})
    sent(giver)
    declined = tam.chain.write("custody.declined", {"reason": "not_packed"}, inspection=False, basis=offered)
    sent(tam)
    row = where(server)
    assert (row["is"], row["holder"]["name"]) == ("person", giver.chain.person), "it stays with who gave it"
    # On the word that was declined, or without any offer: told as a doubt, whoever arrives first.
    took = take(giver, declined, VAN)
    sent(giver)
    assert (where(server)["is"], where(server)["why"]) == ("disputed", "nothing_offered")
    giver.chain.write("entry.withdrawn", {"entry": took}, inspection=False)
    sent(giver)
    assert (where(server)["is"], where(server)["holder"]["name"]) == ("person", giver.chain.person)
    gone = take(giver, offer(giver, VAN, basis=giver.chain.hashes[-1]), VAN)
    sent(giver)
    assert (where(server)["is"], where(server)["tips"][0]["entry"]) == ("outside", gone)


def close(server: WholeServer, row: dict[str, Any], outcome: str) -> httpx.Response:
    body = {"over": row["openers"], "outcome": outcome, "reason": "seen"}
    return server.desk.command("repair.closed", body, {"scope": C14})


def test_what_was_unsent_when_a_lead_closed_the_repair_stays_in_the_record_and_opens_nothing(
    server: WholeServer,
) -> None:
    late = server.tablet("Sink 2")
    of = asked(server.desk, server.lead)
    sent(server.desk)
    stated(late, of)
    step(late, "shipped", of, carrier="Grey Van")
    take(late, offer(late, VAN), VAN)
    (row,) = repairs(server)
    assert close(server, row, "wrong_scope").status_code == 201
    sent(late)
    assert repairs(server) == []
    assert where(server)["is"] == "outside", "that it left is still said, by who has it"
    (card,) = late.browser.get("/cards?since=0").json()["repairs"]
    assert card["events"] == [] and {each[:16] for each in late.chain.hashes[:2]} <= set(card["counted"])
    # An ask that was unsent is another matter: nobody has answered it.
    new = late.chain.write("repair.asked", {"words": "it lags still"}, inspection=False)
    sent(late)
    assert [each["openers"] for each in repairs(server)] == [[new]]


def test_a_release_does_not_end_a_hold(server: WholeServer) -> None:
    tablet = server.desk
    of = asked(tablet, server.lead)
    left = step(tablet, "shipped", of, carrier="Grey Van")
    back(tablet, of, left)
    parts, channels = route("acceptance")
    tablet.chain.begin("acceptance", shift=f"Harrow Lake/{tablet.chain.at.date()}/day")
    tablet.chain.serial()
    tablet.chain.mark(*parts, *channels, mark="could_not_look", reason="no_borescope")
    tablet.chain.conclude("whole", "on")
    tablet.chain.begun = None
    tablet.chain.write("scope.processed", {"place": "Dock"}, inspection=False)
    held = tablet.chain.write("hold.placed", {"reason": "doubt", "tag_on": True}, inspection=False)
    sent(tablet)
    (row,) = repairs(server)
    assert (row["owes"], row["held"]) == ([], True), "and the lead is told of it before"
    assert close(server, row, "done").status_code == 201
    assert held in [each["hold"] for each in server.desk.lead("today")["holds"]]
    assert where(server)["is"] == "hold"
