"""A photo that may show a person is hidden everywhere at once, and only a lead's entry with a reason shows it again."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from door_world import code_of
from live_server import LiveServer
from loupebook.cli import main
from loupebook.inspections.tables.hidden import is_hidden, opened, touched
from sink_tablet import TECHNICIAN_PIN, SinkTablet
from story import C14, Tables, Writer, photo, taken

pytestmark = [pytest.mark.photos, pytest.mark.shift]

BAND = str(photo("band")["sha256"])
ABOUT = {"scope": C14}


# ---------------------------------------------------------------- the rule, on tables


def tablet_and_desk() -> tuple[Writer, Writer]:
    one, server = Writer("Sink 1"), Writer("server", person="moira.keld")
    one.begin()
    one.serial()
    one.find("band_tip", "band_chip", [photo("band", "finding")])
    return one, server


def hidden_in(tables: Tables) -> bool:
    with tables.reading() as connection:
        return is_hidden(connection, BAND)


def shown_again(server: Writer, *of: str) -> None:
    server.write("photo.shown_again", {"photo": BAND, "hidden": list(of), "reason": "it is a glove"}, about=ABOUT)


def test_it_is_hidden_by_a_tablet_or_the_desk_and_shown_again_by_naming_each() -> None:
    one, server = tablet_and_desk()
    assert not hidden_in(taken(one, server))
    first = one.write("photo.restricted", {"photo": BAND})
    second = server.write("photo.hidden", {"photo": BAND}, about=ABOUT)
    assert hidden_in(taken(one, server))
    shown_again(server, first)
    assert hidden_in(taken(one, server))
    shown_again(server, second)
    assert not hidden_in(taken(one, server))


def test_what_comes_later_hides_anew_whatever_the_clocks_say() -> None:
    """A tablet hid it offline in the morning; its entry comes after a lead showed the photo again."""
    one, server = tablet_and_desk()
    two = Writer("Sink 2")
    offline = two.write("photo.restricted", {"photo": BAND}, inspection=False)
    shown_again(server, server.write("photo.hidden", {"photo": BAND}, about=ABOUT))
    for order in ([one, two, server], [one, server, two]):
        assert hidden_in(taken(*order))
    shown_again(server, offline)
    assert not hidden_in(taken(one, server, two)) and not hidden_in(taken(one, two, server))


def test_taking_the_entry_back_shows_nothing_again() -> None:
    one, server = tablet_and_desk()
    one.withdraw(one.write("photo.restricted", {"photo": BAND}))
    assert hidden_in(taken(one, server))


def test_a_look_is_good_for_one_lead_and_ten_minutes() -> None:
    _, server = tablet_and_desk()
    server.write("photo.opened", {"photo": BAND, "reason": "is it a face"}, about=ABOUT)
    tables = taken(server)
    at_ms = int(server.at.timestamp() * 1000)
    with tables.reading() as connection:
        assert opened(connection, BAND, "moira.keld", at_ms + 600_000)
        assert not opened(connection, BAND, "moira.keld", at_ms + 600_001)
        assert not opened(connection, BAND, "rin.oake", at_ms)
        assert not opened(connection, "0" * 64, "moira.keld", at_ms)


def test_tablets_are_told_what_changed_since_and_which_entries_ended() -> None:
    one, server = tablet_and_desk()
    hid = one.write("photo.restricted", {"photo": BAND})
    tables = taken(one)
    before = tables.position
    with tables.reading() as connection:
        assert touched(connection, 0) == [{"photo": BAND, "hidden": True, "ended": []}]
        assert touched(connection, before) == []
    shown_again(server, hid)
    tables.take(server.lines)
    with tables.reading() as connection:
        assert touched(connection, before) == [{"photo": BAND, "hidden": False, "ended": [hid]}]


# ---------------------------------------------------------------- the whole server


class House:
    """A server, a lead at its desk, a technician at another tablet, and one photo on the server."""

    def __init__(self, server: LiveServer) -> None:
        self.server = server
        self.desk = SinkTablet(server.url, "Desk")
        self.lead = self.desk.first(server.said("First code").split()[2])
        self.technician = self.desk.add_person()
        self.auditor = self.desk.add_person("Uma Tarn", ("auditor",), "602841")
        self.sink = SinkTablet(server.url, "Sink 9").enrol(self.desk.invite("Sink 9"))
        self.sink.chain.person = self.technician
        chain = self.sink.chain
        self.root = chain.begin("after_cleaning")
        chain.serial()
        self.photo = self.sink.photo("a wristband", "finding")
        chain.find("band_tip", "band_chip", [self.photo])
        self.sink.send()
        self.sink.put_photos()
        self.wait_for_look()

    @property
    def sha256(self) -> str:
        return str(self.photo["sha256"])

    def wait_for_look(self) -> None:
        end = time.monotonic() + 60
        while self.get(self.sink, "320").status_code == 202:
            assert time.monotonic() < end, "the photo was not looked at"
            time.sleep(0.01)

    def get(self, who: SinkTablet, size: str) -> Any:
        return who.browser.get(f"/photos/{self.sha256}?size={size}")

    def says(self, who: SinkTablet) -> set[object]:
        """Status of each size."""
        return {self.get(who, size).status_code for size in ("320", "640", "full")}

    def page_photo(self) -> dict[str, Any]:
        (row,) = [
            each for each in self.desk.lead(f"inspections/{self.root}")["photos"] if each["sha256"] == self.sha256
        ]
        return dict(row)


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    server = LiveServer(tmp_path_factory.mktemp("hidden") / "record").start()
    try:
        house = House(server)
        yield house
        house.desk.close()
        house.sink.close()
    finally:
        server.close()


def cards(who: SinkTablet, since: int = 0, epoch: str = "") -> dict[str, Any]:
    return dict(who.browser.get(f"/cards?since={since}&epoch={epoch}").json())


def test_hidden_at_the_sink_shown_to_nobody_looked_at_for_a_reason_shown_again(house: House, tmp_path: Path) -> None:
    """One story in one test: each step stands on the one before."""
    assert house.says(house.sink) == house.says(house.desk) == {200}
    before = cards(house.sink)
    hid = house.sink.chain.write("photo.restricted", {"photo": house.sha256})
    house.sink.send()

    # nobody: not the tablet, not another tablet, not the lead who only opens the page, not an auditor
    assert house.says(house.sink) == house.says(house.desk) == {403}
    refused = house.get(house.desk, "full")
    assert code_of(refused) == "restricted" and refused.headers["content-type"] == "application/json"
    anybody = SinkTablet(house.server.url, "Sink 10").enrol(house.desk.invite("Sink 10"))
    assert house.says(anybody) == {403}
    anybody.close()
    now = cards(house.sink, before["position"], before["epoch"]["id"])
    assert now["hidden"] == [{"photo": house.sha256, "hidden": True, "ended": []}]
    (card,) = now["scopes"]
    assert house.sha256 not in json.dumps(card)

    # the lead sees that, who and when
    row = house.page_photo()
    assert row["restricted"] and [(act["kind"], act["person"], act["station"]) for act in row["hiding"]] == [
        ("photo.restricted", house.technician, "Sink 9")
    ]

    # it stays in the record and can be proved: an export holds its entry and says why its bytes stay
    assert main(["export", "--data", str(house.server.data), str(tmp_path / "out")]) == 0
    assert not (tmp_path / "out" / "photos" / house.sha256).exists()
    missing = [json.loads(line) for line in (tmp_path / "out" / "missing.jsonl").read_text().splitlines()]
    assert {"sha256": house.sha256, "why": "hidden"} in missing
    kept = house.server.data / "vault" / "photos" / house.sha256[:2] / house.sha256
    assert kept.stat().st_size == house.photo["bytes"]

    # a look is an act of its own, with a reason
    about = {"scope": house.sink.chain.scope}
    body = {"photo": house.sha256, "reason": " "}
    assert code_of(house.desk.command("photo.opened", body, about)) == "bad_body"
    assert house.says(house.desk) == {403}
    assert house.desk.command("photo.opened", body | {"reason": "is it a face"}, about).status_code == 201
    assert house.says(house.desk) == {200}
    assert house.says(house.sink) == {403}, "to the lead alone"
    assert [act["reason"] for act in house.page_photo()["hiding"]] == [None, "is it a face"]

    # shown again by naming what hid it
    again = {"photo": house.sha256, "hidden": ["0" * 64], "reason": "a glove"}
    refused = house.desk.command("photo.shown_again", again, about)
    assert (refused.status_code, code_of(refused)) == (409, "changed_meanwhile")
    assert house.desk.command("photo.shown_again", again | {"hidden": [hid]}, about).status_code == 201
    assert house.says(house.sink) == house.says(house.desk) == {200}
    assert cards(house.sink)["hidden"] == [{"photo": house.sha256, "hidden": False, "ended": [hid]}]
    assert not house.page_photo()["restricted"]
    assert code_of(house.desk.command("photo.opened", body | {"reason": "again"}, about)) == "not_hidden"

    # and hidden from the desk
    assert house.desk.command("photo.hidden", {"photo": house.sha256}, about).status_code == 201
    assert house.says(house.sink) == {403}
    last = house.page_photo()["hiding"][-1]
    assert (last["kind"], last["person"]) == ("photo.hidden", house.lead)


LEADS_KINDS = ("photo.hidden", "photo.shown_again", "photo.opened", "photo.erasure_asked", "photo.erased")


@pytest.mark.parametrize("kind", [*LEADS_KINDS, "example.chosen"])
def test_what_is_not_there_or_names_no_scope_is_refused(house: House, kind: str) -> None:
    body = {"photo": "a" * 64, "hidden": ["b" * 64], "reason": "seen", "finding": "film", "grade": "minor"}
    body["asked"] = "c" * 64
    assert code_of(house.desk.command(kind, body)) == "bad_body"
    assert house.desk.command(kind, body, ABOUT).status_code == 409


def test_a_technician_neither_looks_nor_shows_again(house: House) -> None:
    house.sink.browser.post("/door/sign-in", {"person": house.technician, "pin": TECHNICIAN_PIN})
    for kind in LEADS_KINDS:
        body = {"photo": house.sha256, "hidden": ["b" * 64], "reason": "seen", "asked": "c" * 64}
        assert house.sink.command(kind, body, ABOUT).status_code == 403
