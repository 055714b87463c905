"""The file of a tablet that cannot send is taken in as if it had sent, exactly once, whatever else is in it.

The form of the file is ours (DEVELOPERS.md); hashes are checked with Python's hashlib, the rest over real HTTP.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import httpx
import pytest
from sink_tablet import SinkTablet
from whole_server import WholeServer

pytestmark = pytest.mark.sink


@pytest.fixture
def server(tmp_path: Path) -> Iterator[WholeServer]:
    server = WholeServer(tmp_path)
    yield server
    server.close()


def inspected(tablet: SinkTablet) -> list[str]:
    """One inspection with a serial photo and a finding's photo, nothing of it sent; the names of its photos."""
    chain = tablet.chain
    chain.begin("before_use")
    serial, seen = tablet.photo("2741906", "serial"), tablet.photo("a scratch", "finding", (90, 60, 60))
    chain.write("serial.photographed", {"how": "last_four", "agrees": "yes"}, [serial])
    chain.find("lens", "scratch", [seen])
    return [str(serial["sha256"]), str(seen["sha256"])]


def line(value: object) -> bytes:
    return json.dumps(value, separators=(",", ":")).encode() + b"\n"


def batch(tablet: SinkTablet, first: int = 1, last: int | None = None) -> bytes:
    end = last or len(tablet.chain.lines)
    said = {"chain": tablet.chain.chain, "from": first, "lines": end - first + 1}
    return line(said) + tablet.chain.batch(first, end)


def photo(name: str, data: bytes) -> bytes:
    return line({"photo": name, "type": "image/jpeg", "base64": base64.b64encode(data).decode()})


def file_of(tablet: SinkTablet, batches: Sequence[bytes] | None = None, photos: bytes | None = None) -> bytes:
    """The file as a tablet writes it."""
    first = line({"loupebook": "unsent", "v": 1, "station": tablet.chain.name, "at": "2026-11-25T12:00:00.000Z"})
    pictures = b"".join(photo(*each) for each in tablet.photos.items()) if photos is None else photos
    end = line({"end": True, "entries": len(tablet.chain.lines), "photos": len(tablet.photos)})
    return first + b"".join(batches if batches is not None else [batch(tablet)]) + pictures + end


def give(server: WholeServer, data: bytes) -> httpx.Response:
    return server.desk.browser.http.post("/lead/unsent", content=data, headers=server.desk.browser.headers())


def given(server: WholeServer, data: bytes) -> dict[str, Any]:
    answer = give(server, data)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def lines_here(server: WholeServer, tablet: SinkTablet) -> list[bytes]:
    with server.here.log.reading() as connection:
        rows = connection.exec_driver_sql(
            "SELECT line FROM log_entries WHERE chain = ? ORDER BY position", (tablet.chain.chain,)
        )
        return [bytes(row[0]) for row in rows]


def photos_here(server: WholeServer, names: Sequence[str]) -> list[bool]:
    return [any((server.data / "vault").rglob(f"{name}*")) for name in names]


def test_entries_and_photos_of_the_file_are_there_and_judged(server: WholeServer) -> None:
    tablet = server.tablet()
    names = inspected(tablet)
    told = given(server, file_of(tablet))
    assert told["entries"] == {"stored": 3, "already": 0, "aside": 0, "stray": 0}
    assert told["photos"] == {"stored": 2, "already": 0}
    assert (told["refused"], told["whole"], told["station"]) == ([], True, "Sink 2")
    assert lines_here(server, tablet) == tablet.chain.lines
    assert photos_here(server, names) == [True, True]
    page = server.desk.lead(f"inspections/{tablet.chain.begun}")
    assert [row["part"] for row in page["findings"]] == ["lens"]
    assert all(row["here"] for row in page["photos"])


def test_taken_in_twice_and_sent_afterwards_everything_is_there_once(server: WholeServer) -> None:
    tablet = server.tablet()
    inspected(tablet)
    given(server, file_of(tablet))
    again = given(server, file_of(tablet))
    assert again["entries"] == {"stored": 0, "already": 3, "aside": 0, "stray": 0}
    assert again["photos"] == {"stored": 0, "already": 2}
    assert {row["state"] for row in tablet.send()} == {"already"}
    tablet.put_photos()
    tablet.chain.mark("distal_tip")
    assert [row["state"] for row in tablet.send()] == ["stored"]
    assert lines_here(server, tablet) == tablet.chain.lines


def test_what_the_rules_put_aside_is_put_aside_from_a_file_too(server: WholeServer) -> None:
    tablet = server.tablet()
    tablet.chain.begin("before_use")
    tablet.chain.find("lens", "scratch", [tablet.photo("no serial photo before it", "finding")])
    told = given(server, file_of(tablet))
    assert told["entries"] == {"stored": 1, "already": 0, "aside": 1, "stray": 0}
    assert [row["reason"] for row in server.desk.lead("aside")["aside"]] == ["serial_first"]


def test_one_bad_batch_and_one_bad_photo_hold_up_nothing_else(server: WholeServer) -> None:
    tablet, other = server.tablet(), server.tablet("Sink 3")
    names = inspected(tablet)
    inspected(other)
    spoilt = batch(other).replace(b'"grade":"moderate"', b'"grade":"severe"')
    wrong = photo(names[0], b"other bytes of the same photo")
    pictures = wrong + photo(names[1], tablet.photos[names[1]])
    told = given(server, file_of(tablet, [spoilt, batch(tablet)], pictures))
    assert told["entries"]["stored"] == 3
    assert told["photos"] == {"stored": 1, "already": 0}
    assert [row["code"] for row in told["refused"]] == ["head_wrong", "other_length"]
    assert lines_here(server, other) == []
    assert lines_here(server, tablet) == tablet.chain.lines
    assert photos_here(server, names) == [False, True]


def test_a_file_cut_anywhere_gives_what_stands_before_the_cut_and_says_so(server: WholeServer) -> None:
    tablet = server.tablet()
    inspected(tablet)
    first, second = batch(tablet, 1, 1), batch(tablet, 2, 3)
    whole = file_of(tablet, [first, second])
    told = given(server, whole[: whole.index(second) + 200])
    assert (told["whole"], told["entries"]["stored"]) == (False, 1)
    assert lines_here(server, tablet) == tablet.chain.lines[:1]
    rest = given(server, whole)
    assert (rest["whole"], rest["entries"]["stored"], rest["entries"]["already"]) == (True, 2, 1)


def test_a_withdrawn_station_s_file_is_kept_and_put_aside(server: WholeServer) -> None:
    tablet = server.tablet()
    inspected(tablet)
    station = next(row for row in server.desk.lead("stations")["stations"] if row["name"] == "Sink 2")["station"]
    revoked = server.desk.browser.post(f"/door/stations/{station}/revoke", {"reason": "lost in the lift"})
    assert revoked.status_code == 200, revoked.text
    told = given(server, file_of(tablet))
    assert told["entries"] == {"stored": 0, "already": 0, "aside": 3, "stray": 0}
    assert lines_here(server, tablet) == tablet.chain.lines


def test_the_chain_of_a_tablet_nobody_enrolled_is_refused_in_words(server: WholeServer) -> None:
    stranger = server.stranger("Sink 9")
    inspected(stranger)
    told = given(server, file_of(stranger))
    assert [row["code"] for row in told["refused"]][:1] == ["chain_unknown"]
    assert told["entries"]["stored"] == 0


@pytest.mark.parametrize("data", [b"", b"\n", b"[]", b"%PDF-1.7", line({"loupebook": "record", "v": 1})])
def test_another_file_is_refused_and_changes_nothing(server: WholeServer, data: bytes) -> None:
    before = server.desk.lead("today")["position"]
    answer = give(server, data)
    assert (answer.status_code, answer.json()["trouble"]["code"]) == (422, "not_unsent")
    assert server.desk.lead("today")["position"] == before
