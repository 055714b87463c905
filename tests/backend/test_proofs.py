"""An online proof names a ticket the door gave that person at that station: what does not is shown, never put aside.

Over real HTTP against a running server; tickets are forged as a station could forge them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import pytest
from door_world import LEAD_PIN
from live_server import LiveServer
from loupebook.door.sessions import tickets_of
from loupebook.door.tables import Ticket
from loupebook.log.declared import table_of
from loupebook.reading.page import page
from loupebook.reading.today import today
from sink_tablet import TECHNICIAN_PIN, SinkTablet
from story import SHIFT, Writer, lead_sources, photo, plans, stations_of, taken

pytestmark = pytest.mark.sink


def online(ticket: str | None) -> dict[str, object]:
    """A proof that claims the server's word, by this ticket or by none."""
    proof: dict[str, object] = {"how": "pin", "where": "online"}
    return proof if ticket is None else proof | {"ticket": ticket}


def ticket(tablet: SinkTablet, person: str, pin: str) -> str:
    """What the door gives a person who signs in at a tablet."""
    answer = tablet.browser.sign_in(person, pin)
    assert answer.status_code == 200, answer.text
    return str(answer.json()["ticket"])


class House:
    """A server, a desk with its lead, and a sink with a technician; both signed in, each with a ticket of the door."""

    def __init__(self, server: LiveServer) -> None:
        self.server = server
        self.desk = SinkTablet(server.url, "Desk")
        self.lead = self.desk.first(server.said("First code").split()[2])
        self.technician = self.desk.add_person()
        self.sink = SinkTablet(server.url, "Sink 2").enrol(self.desk.invite("Sink 2"))
        self.sink.chain.person = self.technician
        self.tickets = {
            "nobody": "t-" + "0" * 32,
            "technician here": ticket(self.sink, self.technician, TECHNICIAN_PIN),
            "technician at the desk": ticket(self.desk, self.technician, TECHNICIAN_PIN),
            "lead at the desk": ticket(self.desk, self.lead, LEAD_PIN),
        }

    def begin(self) -> str:
        """An inspection proved by the technician's own ticket; nothing of it is in doubt."""
        self.sink.chain.proof = online(self.tickets["technician here"])
        begun = self.sink.chain.begin("before_use")
        self.sink.chain.serial()
        return begun

    def page(self, begun: str) -> dict[str, Any]:
        return self.desk.lead(f"inspections/{begun}")

    def unknown(self, begun: str) -> list[str]:
        """The entries of the open point, which today and the page must tell alike."""
        (line,) = [each for each in self.desk.lead(f"today?shift={SHIFT}")["inspections"] if each["root"] == begun]
        told = [point["entries"] for point in self.page(begun)["points"] if point["what"] == "proof_unknown"]
        assert told == [point["entries"] for point in line["points"] if point["what"] == "proof_unknown"]
        return [entry for entries in told for entry in entries]

    def close(self) -> None:
        self.desk.close()
        self.sink.close()


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    server = LiveServer(tmp_path_factory.mktemp("proofs") / "record").start()
    try:
        house = House(server)
        yield house
        house.close()
    finally:
        server.close()


def test_a_ticket_of_the_door_confirms(house: House) -> None:
    begun = house.begin()
    assert {receipt["verdict"] for receipt in house.sink.send()} == {"counted"}
    page = house.page(begun)
    assert {row["by"]["proved"] for row in (*page["parts"], *page["serials"])} == {"confirmed"}
    assert house.unknown(begun) == []


@pytest.mark.parametrize("whose", ["nobody", "lead at the desk", "technician at the desk", None])
def test_a_ticket_that_is_nobodys_another_persons_or_another_stations_is_told_and_counts(
    house: House, whose: str | None
) -> None:
    begun = house.begin()
    house.sink.chain.proof = online(None if whose is None else house.tickets[whose])
    mark = house.sink.chain.mark("lens")
    assert {receipt["verdict"] for receipt in house.sink.send()} == {"counted"}
    assert house.desk.lead("aside")["aside"] == []
    page = house.page(begun)
    assert page["counts"]["nothing_found"] == 1
    (lens,) = [stop for stop in page["route"] if stop["id"] == "lens"]
    assert [row["by"]["proved"] for row in lens["marks"]] == ["unknown"]
    assert house.unknown(begun) == [mark]


@pytest.mark.parametrize(
    ("proof", "proved"),
    [
        ({"how": "pin", "where": "offline"}, "offline"),
        ({"how": "named", "where": "online"}, "named"),
        ({"how": "named", "where": "offline"}, "named"),
    ],
)
def test_what_claims_no_word_of_the_server_is_said_as_it_is(
    house: House, proof: Mapping[str, object], proved: str
) -> None:
    begun = house.begin()
    house.sink.chain.proof = proof
    house.sink.chain.find("lens", "scratch")
    house.sink.send()
    assert [row["by"]["proved"] for row in house.page(begun)["findings"]] == [proved]
    assert house.unknown(begun) == []


def test_what_leaves_no_row_of_its_own_is_told_too(house: House) -> None:
    """Taking a finding back, hiding a photo, placing a hold."""
    begun = house.begin()
    chain = house.sink.chain
    shot = photo(f"of {begun}", "finding")
    seen = chain.find("lens", "lens_crack", [shot])
    chain.proof = online(house.tickets["nobody"])
    forged = [
        chain.withdraw(seen),
        chain.write("photo.restricted", {"photo": chain_photo(chain)}),
        chain.write("hold.placed", {"reason": "doubt", "tag_on": True}),
    ]
    house.sink.send()
    assert sorted(house.unknown(begun)) == sorted(forged)


def chain_photo(chain: Writer) -> str:
    """The serial photo of the inspection in hand, as `Writer.serial` names it."""
    return str(photo(f"serial {chain.name} {len(chain.lines) - 3}", "serial")["sha256"])


def test_a_correction_is_proved_by_its_own_author(house: House) -> None:
    begun = house.begin()
    seen = house.sink.chain.find("lens", "scratch")
    body = {"part": "lens", "finding": "scratch", "grade": "minor", "since": "new"}
    house.sink.chain.proof = online(house.tickets["nobody"])
    house.sink.chain.correct(seen, body)
    house.sink.send()
    page = house.page(begun)
    assert [row["by"]["proved"] for row in page["findings"]] == ["unknown"]
    assert [row["by"]["proved"] for correction in page["corrections"] for row in correction["before"]] == ["confirmed"]
    assert house.unknown(begun) == [seen]


def test_tickets_are_asked_for_once_a_screen_and_by_their_key(house: House) -> None:
    """A story of 30 entries with a ticket each; `SEARCH tickets` is a step in an index (sqlite.org, eqp.html)."""
    one = Writer("Sink 1")
    one.begin()
    one.serial()
    for number in range(30):
        one.proof = online(f"t-{number}")
        one.mark("lens")
    tables = taken(one)
    table_of(Ticket).create(tables.engine)
    asked: list[int] = []

    def tickets(connection: Any, wanted: Any) -> Any:
        asked.append(len(wanted))
        return tickets_of(connection, wanted)

    sources = replace(lead_sources(tables, stations_of(one)), tickets=tickets)

    def views() -> None:
        with tables.reading() as connection:
            today(connection, sources, SHIFT)
            page(connection, sources, str(one.begun))

    rows = plans(tables.engine, views)
    assert asked == [30, 30]
    of_tickets = [row for row in rows if "tickets" in row]
    assert len(of_tickets) == 2 and all(row.startswith("SEARCH tickets") for row in of_tickets)
