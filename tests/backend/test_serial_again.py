"""The server reads each serial photo again: another number holds the scope, all else writes nothing, never twice.

Real photos of a code by zint, an encoder independent of both readers, over real HTTP against a whole installation.
The DI is the public sample of the FDA format sheet and the HL7 UDI page; serial numbers are invented.
"""

from __future__ import annotations

import hashlib
import io
import json
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from loupebook.looking.look import Look
from PIL import Image
from story import C14, photo
from whole_server import WholeServer

pytestmark = pytest.mark.sink

DI = "51022222233336"
THIS, OTHER = f"[01]{DI}[21]2741906", f"[01]{DI}[21]2741960"
REASON = "seen by the lead"


class House(WholeServer):
    """A whole server whose photos are looked at before it is asked anything."""

    def again(self) -> None:
        super().again()
        self.settled()

    def plate(self, code: str | None, tone: str = "grey") -> dict[str, Any]:
        """A photo of a serial plate, named as an entry names it; its bytes wait until they are put."""
        image = Image.new("RGB", (1280, 960), tone)
        if code is not None:
            made = self.folder / "code.png"
            kind = ["-b", "DATAMATRIX", "--gs1", "--scale", "4", "--quietzones"]
            subprocess.run(["zint", *kind, "-o", made, "-d", code], check=True, timeout=60)
            drawn = Image.open(made).convert("RGB")
            image.paste(drawn, (300, 300))
        out = io.BytesIO()
        image.save(out, "JPEG", quality=90)
        data = out.getvalue()
        named = photo("", "serial") | {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
        self.desk.photos[str(named["sha256"])] = data
        return named | {"width": 1280, "height": 960}

    def inspect(self, plate: dict[str, Any], serial_agrees: str = "yes") -> str:
        """An inspection begun with this photo as that of the serial number; nothing is sent."""
        begun = self.desk.chain.begin("before_use")
        self.desk.chain.write("serial.photographed", {"how": "last_four", "agrees": serial_agrees}, [plate])
        return begun

    def put(self) -> None:
        """Entries, then photos, then wait until they are looked at."""
        self.desk.send()
        self.desk.put_photos()
        self.settled()

    def read(self) -> list[dict[str, Any]]:
        """What the server wrote of serial photos."""
        with self.here.log.reading() as connection:
            rows = connection.exec_driver_sql("SELECT line FROM log_entries WHERE kind = 'serial.read' ORDER BY seq")
            return [json.loads(row[0]) for row in rows]

    def wait_for(self, begun: str) -> dict[str, Any]:
        """The page of an inspection once it shows what the server read: asked at each position of the event stream."""
        with self.desk.browser.http.stream("GET", "/lead/changes", headers=self.desk.browser.headers()) as events:
            for line in events.iter_lines():
                if line.startswith("data:") and (page := self.desk.lead(f"inspections/{begun}"))["serial_readings"]:
                    return page
        raise AssertionError("the stream ended")


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    house = House(tmp_path)
    yield house
    house.close()


def test_another_number_in_the_photo_holds_the_scope_and_is_told_everywhere(house: House) -> None:
    plate = house.plate(OTHER)
    begun = house.inspect(plate)
    house.put()
    (entry,) = house.read()
    assert entry["body"] == {"photo": plate["sha256"], "begun": begun, "code": f"01{DI}212741960", "agrees": "no"}
    assert (entry["person"], entry["proof"], entry["about"]) == (
        "server", {"how": "named", "where": "online"}, {"scope": C14},
    )  # fmt: skip
    page = house.desk.lead(f"inspections/{begun}")
    (reading,) = page["serial_readings"]
    assert (reading["code"], reading["by"]["person"], reading["by"]["proved"]) == (
        f"01{DI}212741960", "server", "named",
    )  # fmt: skip
    assert [(point["what"], point["entries"]) for point in page["points"]] == [
        ("serial_differs", [reading["by"]["entry"]])
    ]
    assert [(hold["cause"], hold["reason"], hold["goes"]) for hold in page["holds"]] == [
        ("serial", "wrong_number", "hold")
    ]
    assert [hold["cause"] for hold in house.desk.lead("today")["holds"]] == ["serial"]
    cards = house.desk.browser.get("/cards?since=0").json()
    assert [(hold["scope"], hold["cause"]) for hold in cards["holds"]] == [(C14, "serial")]
    assert [(scope["near"], scope.get("serial_photo")) for scope in cards["scopes"]] == [(True, None)]


@pytest.mark.parametrize("code", [THIS, None, f"[21]2741960[10]{DI}"])
def test_what_agrees_and_what_proves_nothing_is_not_written(house: House, code: str | None) -> None:
    begun = house.inspect(house.plate(code))
    house.put()
    assert house.read() == []
    assert house.desk.lead(f"inspections/{begun}")["points"] == []
    assert house.here.serials.waiting() == []


def test_a_photo_is_held_against_its_scope_once_however_often_it_comes_or_the_server_starts(house: House) -> None:
    plate = house.plate(OTHER)
    data = house.desk.photos[str(plate["sha256"])]
    house.inspect(plate)
    house.put()
    assert house.desk.put(str(plate["sha256"]), data).json()["state"] == "already"
    house.settled()
    house.again()
    assert len(house.read()) == 1


def test_each_part_that_names_one_photo_has_its_own_answer(house: House) -> None:
    plate = house.plate(OTHER)
    first = house.inspect(plate)
    house.put()
    second = house.inspect(plate)
    house.desk.send()
    page = house.wait_for(second)
    assert [hold["begun"] for hold in page["holds"]] == [second]
    assert [entry["body"]["begun"] for entry in house.read()] == [first, second]


def test_a_photo_that_came_while_its_entry_was_put_aside_is_held_against_it_once_it_counts(house: House) -> None:
    house.desk.chain.person = "p-nobody"
    begun = house.inspect(house.plate(OTHER))
    house.put()
    assert house.read() == []
    for entry in house.desk.chain.hashes:
        waiting = [row["hash"] for row in house.desk.lead("aside")["aside"]]
        if entry in waiting:
            told = house.desk.command("aside.settled", {"entry": entry, "outcome": "count", "reason": REASON})
            assert told.status_code == 201, told.text
    page = house.wait_for(begun)
    assert "serial_differs" in [point["what"] for point in page["points"]]


def test_a_photo_taken_back_before_it_came_holds_nothing(house: House) -> None:
    house.inspect(house.plate(OTHER))
    house.desk.chain.withdraw(house.desk.chain.hashes[-1])
    house.put()
    assert house.read() == []


def test_what_was_cut_off_before_it_was_written_is_written_after_the_start(house: House) -> None:
    def cut(photo: str, look: Look) -> None:
        raise OSError("planted")

    house.here.serials.looked = cut  # type: ignore[method-assign]
    house.inspect(house.plate(OTHER))
    house.put()
    assert house.read() == []
    house.again()
    assert len(house.read()) == 1


def test_a_lead_lifts_the_hold_after_a_newer_photo_that_agrees_and_it_stays_lifted(house: House) -> None:
    house.inspect(house.plate(OTHER))
    house.put()
    (hold,) = house.desk.lead("today")["holds"]
    body = {"hold": hold["hold"], "goes": "on", "first": "nothing", "reason": "another label lay beside it"}
    refused = house.desk.command("hold.decided", body)
    assert (refused.status_code, refused.json()["trouble"]["code"]) == (409, "nobody_may")
    house.inspect(house.plate(THIS))
    house.put()
    assert house.desk.command("hold.decided", body).status_code == 201
    house.again()
    with house.here.log.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM holds WHERE standing = 1").scalar_one() == 0


def test_a_code_too_long_or_written_otherwise_still_fits_an_entry() -> None:
    from loupebook.serial_again import LONGEST_CODE, _kept

    assert len(_kept("é" * 3000)) == LONGEST_CODE
    assert _kept("e\u0301\ud800") == "\u00e9?"
