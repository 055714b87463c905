"""What a station may send, and what the whole server answers, over HTTP: nothing that was signed is ever thrown away.

The answers are those of the product's own contract (DEVELOPERS.md, "HTTP" and "Verdicts").
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import closing
from itertools import count
from typing import Any

import httpx
import pytest
from loupebook.log.engine import sqlite_module
from loupebook.record.hashes import entry_hash
from sink_tablet import SinkTablet, picture
from story import C14
from tablet import signed
from whole_server import WholeServer

pytestmark = pytest.mark.sink


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WholeServer]:
    whole = WholeServer(tmp_path_factory.mktemp("contract"))
    yield whole
    whole.close()


names = count(2)


@pytest.fixture
def tablet(server: WholeServer) -> SinkTablet:
    """A new tablet of the server, with a technician. The door lets ten be enrolled in a row, no more."""
    return server.tablet(f"Sink {next(names)}")


@pytest.fixture(scope="module")
def sink(server: WholeServer) -> SinkTablet:
    """One tablet for the tests that only go on with its chain."""
    return server.tablet("Sink 1")


def post(tablet: SinkTablet, first: int, body: bytes) -> httpx.Response:
    return tablet.browser.http.post(
        f"/chains/{tablet.chain.chain}/entries?from={first}",
        content=body,
        headers=tablet.browser.headers() | {"Content-Type": "application/x-ndjson"},
    )


def received(tablet: SinkTablet) -> list[str]:
    """What is said of each line sent: `counted`, or why it does not count."""
    return [str(each.get("reason", each["verdict"])) for each in tablet.send()]


def kept(server: WholeServer, table: str, chain: str) -> list[bytes]:
    """The bytes the database holds of a chain, as they came.

    By the SQLite the server uses: it runs in this process, and two SQLites that open one file in one process take each
    other's locks away (sqlite.org, How To Corrupt An SQLite Database File, 2.2.1).
    """
    with closing(sqlite_module().connect(f"file:{server.data / 'record.sqlite'}?mode=ro", uri=True)) as base:
        rows = base.execute(f"SELECT line FROM {table} WHERE chain = ? ORDER BY seq", (chain,))
        return [bytes(line) for (line,) in rows]


def received_scope(tablet: SinkTablet) -> str:
    return tablet.chain.write("scope.received", {"place": "sink"}, inspection=False)


def put_line(tablet: SinkTablet, line: bytes) -> None:
    """Bytes of our choice at the next place of the chain, as a hand-made chain can sign them."""
    tablet.chain.lines.append(line)
    tablet.chain.hashes.append(entry_hash(line))


# ---------------------------------------------------------------- places


def test_the_same_seq_with_the_same_hash_is_already_there(server: WholeServer, tablet: SinkTablet) -> None:
    received_scope(tablet)
    received_scope(tablet)
    body = tablet.chain.batch()
    first, again = post(tablet, 1, body).json(), post(tablet, 1, body).json()
    assert [each["state"] for each in first["receipts"]] == ["stored"] * 2
    assert [each["state"] for each in again["receipts"]] == ["already"] * 2
    assert [each["hash"] for each in again["receipts"]] == tablet.chain.hashes
    assert (again["seq"], again["hash"], again["epoch"]) == (2, tablet.chain.hashes[1], first["epoch"])
    assert kept(server, "log_entries", tablet.chain.chain) == tablet.chain.lines


def test_the_same_seq_with_another_hash_is_kept_beside_the_chain_and_told(
    server: WholeServer, tablet: SinkTablet
) -> None:
    received_scope(tablet)
    tablet.send()
    chain = tablet.chain
    other = chain.lines[0].replace(b'"place":"sink"', b'"place":"room"')
    hash = entry_hash(other)
    told = post(tablet, 1, signed(chain.key, chain.chain, 1, hash, [other])).json()
    wanted = {"seq": 1, "hash": hash, "state": "stray", "verdict": "aside", "reason": "forked"}
    assert told["forked"] is True and told["receipts"] == [wanted]
    assert (kept(server, "log_entries", chain.chain), kept(server, "log_strays", chain.chain)) == (
        chain.lines,
        [other],
    )
    (stray,) = [each for each in server.desk.lead("aside")["strays"] if each["chain"] == chain.chain]
    assert (stray["station"], stray["lines"], stray["first_seq"], stray["last_seq"]) == (chain.name, 1, 1, 1)


def test_a_gap_is_refused_with_the_place_to_send_from(tablet: SinkTablet) -> None:
    for _ in range(3):
        received_scope(tablet)
    assert (answer := post(tablet, 2, tablet.chain.batch(2))).status_code == 409
    assert (answer.json()["seq"], answer.json()["hash"]) == (0, None)
    post(tablet, 1, tablet.chain.batch(1, 1))
    assert (answer := post(tablet, 3, tablet.chain.batch(3))).status_code == 409
    assert (answer.json()["seq"], answer.json()["hash"]) == (1, tablet.chain.hashes[0])
    assert set(answer.json()["trouble"]) == {"code", "so", "safe", "next"}


# ---------------------------------------------------------------- lines


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (lambda line: line.replace(b"scope.received", b"scope.vanished"), "unknown_kind"),
        (lambda line: line.replace(b"scope.received", b"hold.decided"), "bad_body"),
        (lambda line: line[:-1], "unparseable"),
        (lambda line: b"\xff" + line, "unparseable"),
        (lambda line: line.replace(b'"place":"sink"', b'"place":"sink","place":"room"'), "doubled_key"),
        (lambda line: line.replace(b'"v":1,', b'"v":1,"v":1,'), "doubled_key"),
        (lambda line: line.replace(b'"place":"sink"', b'"place":3.5'), "not_whole"),
        (lambda line: line.replace(b'"place":"sink"', b'"place":{"$gt":""}'), "bad_body"),
    ],
)
def test_a_line_that_does_not_come_in_keeps_its_place_and_the_chain_goes_on(
    server: WholeServer, sink: SinkTablet, change: Any, reason: str
) -> None:
    chain = sink.chain
    received_scope(sink)
    received_scope(sink)
    line = change(chain.lines.pop())
    chain.hashes.pop()
    put_line(sink, line)
    received_scope(sink)
    assert received(sink) == ["counted", reason, "counted"]
    assert kept(server, "log_entries", chain.chain) == chain.lines
    (aside,) = [each for each in server.desk.lead("aside")["aside"] if each["chain"] == chain.chain]
    assert (aside["hash"], aside["reason"], aside["station"]) == (chain.hashes[-2], reason, chain.name)
    refused = server.desk.command("aside.settled", {"entry": aside["hash"], "outcome": "count", "reason": "seen"})
    assert (refused.status_code, refused.json()["trouble"]["code"]) == (422, "cannot_count")
    left = server.desk.command("aside.settled", {"entry": aside["hash"], "outcome": "leave_out", "reason": "seen"})
    assert left.status_code == 201, left.text


# ---------------------------------------------------------------- stations and photos


def test_a_withdrawn_station_may_send_and_all_of_it_is_put_aside(server: WholeServer, tablet: SinkTablet) -> None:
    received_scope(tablet)
    assert received(tablet) == ["counted"]
    station = next(each for each in server.desk.lead("stations")["stations"] if each["chain"] == tablet.chain.chain)
    told = server.desk.browser.post(f"/door/stations/{station['station']}/revoke", {"reason": "lost"})
    assert told.status_code in (200, 201), told.text
    shot = tablet.photo("tip")
    begun = tablet.chain.begin("before_use")
    tablet.chain.write("serial.photographed", {"how": "code", "agrees": "yes"}, [tablet.photo("serial", "serial")])
    tablet.chain.write("photo.added", {"part": "lens", "rings": []}, [shot])
    assert received(tablet) == ["station_revoked"] * 3
    tablet.put_photos()
    assert tablet.browser.get("/cards?since=0").status_code == 403
    assert tablet.browser.get(f"/photos/{shot['sha256']}").status_code in (401, 403)
    refused = server.desk.browser.get(f"/lead/inspections/{begun}")
    assert refused.status_code == 404, "nothing of it counts"
    for hash in tablet.chain.hashes[1:]:
        done = server.desk.command("aside.settled", {"entry": hash, "outcome": "count", "reason": "seen"})
        assert done.status_code == 201, done.text
    page = server.desk.lead(f"inspections/{begun}")
    assert [photo["here"] for photo in page["photos"]] == [True, True]


def test_a_photo_that_no_entry_names_is_not_taken(sink: SinkTablet) -> None:
    data = picture("nobody names me")
    name = hashlib.sha256(data).hexdigest()
    answer = sink.put(name, data)
    assert (answer.status_code, answer.json()["trouble"]["code"]) == (409, "entry_first")
    sink.chain.begin("before_use")
    sink.chain.write(
        "serial.photographed",
        {"how": "code", "agrees": "yes"},
        [{"sha256": name, "bytes": len(data), "type": "image/jpeg", "width": 960, "height": 720, "shows": "serial"}],
    )
    sink.send()
    assert sink.put(name, data).status_code in (200, 201)


# ---------------------------------------------------------------- the serial photo first


def test_by_raw_http_and_a_hand_made_chain_nothing_counts_before_the_serial_photo(
    server: WholeServer, tablet: SinkTablet
) -> None:
    """Kept, put aside, never counted; a hold and a failed leak test are never held up."""
    chain = tablet.chain
    chain.scope = C14
    begun = chain.begin("after_cleaning")
    chain.mark("lens")
    chain.find("lens", "scratch", [tablet.photo("scratch", "finding")])
    chain.write("photo.added", {"part": "lens", "rings": []}, [tablet.photo("lens")])
    chain.write("reading.taken", {"what": "leak_test", "result": "held", "steps": []})
    chain.write("channel.looked", {"channel": "ch_instrument", "outcome": "through"})
    chain.write("serial.photographed", {"how": "code", "agrees": "yes"}, [tablet.photo("not the serial", "part")])
    chain.write("hold.placed", {"reason": "doubt", "tag_on": True})
    chain.write("reading.taken", {"what": "leak_test", "result": "bubbles", "steps": []})
    chain.conclude("whole", "repair")
    first = "serial_first"
    assert received(tablet) == [
        "counted", first, first, first, first, first, first, "counted", "counted", first,
    ]  # fmt: skip
    page = server.desk.lead(f"inspections/{begun}")
    assert (page["counts"]["nothing_found"], page["counts"]["finding"], page["findings"]) == (0, 0, [])
    assert page["state"] == "begun" and [row["result"] for row in page["readings"]] == ["bubbles"]
    assert [hold["standing"] for hold in page["holds"]] == [True]
    chain.write("serial.photographed", {"how": "code", "agrees": "yes"}, [tablet.photo("serial", "serial")])
    chain.mark("valves")
    assert received(tablet) == ["counted", "counted"]
    for hash in (chain.hashes[1], chain.hashes[9]):
        refused = server.desk.command("aside.settled", {"entry": hash, "outcome": "count", "reason": "seen"})
        assert (refused.status_code, refused.json()["trouble"]["code"]) == (422, "rule_stands")
    page = server.desk.lead(f"inspections/{begun}")
    assert (page["counts"]["nothing_found"], page["counts"]["finding"], page["state"]) == (1, 0, "begun")
    assert kept(server, "log_entries", chain.chain) == chain.lines, "and every line is kept as it came"


def test_a_beginning_that_brings_a_photo_of_something_else_is_put_aside(sink: SinkTablet) -> None:
    chain = sink.chain
    chain.begun = None
    chain.begin("before_use")
    line = chain.lines.pop()
    chain.hashes.pop()
    shot = sink.photo("a tip")
    text = (
        f'{{"sha256":"{shot["sha256"]}","bytes":{shot["bytes"]},"type":"image/jpeg",'
        '"width":960,"height":720,"shows":"part"}'
    )
    put_line(sink, line.replace(b'"photos":[]', b'"photos":[' + text.encode() + b"]"))
    assert received(sink) == ["serial_first"]


def test_the_photo_of_another_part_of_the_inspection_is_no_serial_photo_here(
    server: WholeServer, sink: SinkTablet
) -> None:
    """Each tablet's part has its own: what another tablet photographed proves nothing of this one's hands."""
    root = sink.chain.begin("before_use")
    sink.chain.write("serial.photographed", {"how": "code", "agrees": "yes"}, [sink.photo("serial", "serial")])
    assert received(sink) == ["counted", "counted"]
    other = server.tablet(f"Sink {next(names)}")
    other.chain.begin("before_use", continues=root)
    other.chain.mark("lens")
    assert received(other) == ["counted", "serial_first"]
