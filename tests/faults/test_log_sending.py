"""What a tablet may meet on its way to the log, over real HTTP."""

import socket
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from faults.log_server import LogServer
from loupebook.log.backup import DATABASE
from loupebook.log.engine import open_engine
from loupebook.log.tables import entries
from loupebook.record.hashes import entry_hash
from sqlalchemy import select
from tablet import Tablet, signed

pytestmark = pytest.mark.sink


@pytest.fixture
def one() -> Tablet:
    return Tablet("sink 1")


@pytest.fixture
def server(tmp_path: Path, one: Tablet) -> Iterator[LogServer]:
    with LogServer(tmp_path, [one]) as running:
        yield running


@pytest.fixture
def client(server: LogServer) -> Iterator[httpx.Client]:
    with server.client() as client:
        yield client


def lines_in(folder: Path) -> list[bytes]:
    engine = open_engine(folder / DATABASE)
    with engine.connect() as connection:
        found = [bytes(line) for (line,) in connection.execute(select(entries.c.line).order_by(entries.c.position))]
    engine.dispose()
    return found


def test_an_answer_is_a_receipt_only_with_our_header_the_hashes_and_the_epoch(
    server: LogServer, client: httpx.Client, one: Tablet
) -> None:
    one.inspection()
    answer = server.post(client, one, 1)
    assert answer.status_code == 200
    assert answer.headers["x-loupebook"] == "1"
    assert answer.headers["content-type"] == "application/json"
    told = answer.json()
    assert set(told) == {"epoch", "seq", "hash", "receipts", "wanted"}
    assert set(told["epoch"]) == {"n", "id"}
    assert [each["hash"] for each in told["receipts"]] == one.hashes
    head = client.get(f"/chains/{one.chain}/head", headers={"x-test-station": one.name})
    wanted = {"epoch": told["epoch"], "seq": len(one.lines), "hash": one.hashes[-1], "backed_up_seq": 0}
    assert head.json() == wanted and head.headers["x-loupebook"] == "1"


def test_a_swallowed_reply_heals_by_sending_again(server: LogServer, client: httpx.Client, one: Tablet) -> None:
    one.inspection()
    body = one.batch()
    with socket.create_connection(("127.0.0.1", server.port)) as raw:
        raw.sendall(
            f"POST /chains/{one.chain}/entries?from=1 HTTP/1.1\r\nhost: x\r\nx-test-station: {one.name}\r\n"
            f"x-loupebook: 1\r\ncontent-length: {len(body)}\r\n\r\n".encode()
            + body
        )
        assert raw.recv(1), "it was taken; the rest of the answer is never read"
    states = {each["state"] for each in server.post(client, one, 1).json()["receipts"]}
    assert states == {"already"}
    assert lines_in(server.folder) == one.lines


def test_a_body_cut_on_the_way_stores_nothing(server: LogServer, client: httpx.Client, one: Tablet) -> None:
    one.inspection()
    body = one.batch()
    with socket.create_connection(("127.0.0.1", server.port)) as raw:
        raw.sendall(
            f"POST /chains/{one.chain}/entries?from=1 HTTP/1.1\r\nhost: x\r\nx-test-station: {one.name}\r\n"
            f"x-loupebook: 1\r\ncontent-length: {len(body)}\r\n\r\n".encode()
            + body[: len(body) // 2]
        )
    assert server.post(client, one, 1).json()["receipts"][0]["state"] == "stored"
    assert lines_in(server.folder) == one.lines


def test_a_flipped_bit_is_refused_and_the_same_batch_goes_through(
    server: LogServer, client: httpx.Client, one: Tablet
) -> None:
    one.inspection()
    body = bytearray(one.batch())
    at = body.rindex(b'"build"')
    body[at + 10] ^= 1
    refused = server.post_body(client, one, 1, bytes(body))
    assert (refused.status_code, refused.json()["trouble"]["code"]) == (422, "head_wrong")
    assert lines_in(server.folder) == []
    assert server.post(client, one, 1).status_code == 200


def test_a_gap_says_where_to_send_from(server: LogServer, client: httpx.Client, one: Tablet) -> None:
    one.inspection()
    server.post(client, one, 1, 2)
    gap = server.post(client, one, 4)
    assert gap.status_code == 409
    assert (gap.json()["seq"], gap.json()["hash"]) == (2, one.hashes[1])
    assert set(gap.json()["trouble"]) == {"code", "so", "safe", "next"}
    assert server.post(client, one, gap.json()["seq"] + 1).status_code == 200


def test_a_fork_is_told_and_kept(server: LogServer, client: httpx.Client, one: Tablet) -> None:
    one.inspection()
    server.post(client, one, 1)
    twin = Tablet(one.name, key=one.key)
    twin.begin("before_use", shift="other")
    told = server.post(client, twin, 1).json()
    assert told["forked"] is True
    wanted = {"seq": 1, "hash": twin.hashes[0], "state": "stray", "verdict": "aside", "reason": "forked"}
    assert told["receipts"] == [wanted]
    assert lines_in(server.folder) == one.lines


def test_one_seq_sent_by_many_at_once_is_stored_once(server: LogServer, one: Tablet) -> None:
    one.inspection()

    def send(_: int) -> str:
        with server.client() as client:
            return str(server.post(client, one, 1).json()["receipts"][0]["state"])

    with ThreadPoolExecutor(8) as threads:
        states = sorted(threads.map(send, range(8)))
    assert states == ["already"] * 7 + ["stored"]
    assert lines_in(server.folder) == one.lines


HTML = "<script>alert(1)</script>&<img src=x onerror=alert(1)>"


def test_html_in_every_text_field_is_kept_as_it_came(server: LogServer, client: httpx.Client, one: Tablet) -> None:
    one.scope = f"mms:{HTML}|C1|A\u001dB"
    one.begin("before_use", shift=HTML, identified={"by": "typed", "text": HTML, "symbology": HTML})
    body = {"how": "last_four", "agrees": "unknown", "code": HTML, "last_four": HTML, "where": HTML}
    one.write("serial.photographed", body, [SERIAL])
    one.find("lens", "scratch", since="same", note=HTML)
    one.mark("lens", tool=HTML)
    one.write("reading.taken", {"what": "leak_test", "result": "held", "unit": HTML, "meter": HTML, "lot": HTML})
    one.write("hold.placed", {"reason": "doubt", "tag_on": True, "note": HTML})
    registered = {"scope_kind": "colonoscope", "serial": HTML, "maker": HTML, "model": HTML, "tag": HTML}
    one.write("scope.registered", registered | {"codes": [HTML]}, inspection=False)
    one.write("scope.received", {"place": HTML}, inspection=False)
    one.write("scope.processed", {"place": HTML, "machine": HTML, "cycle": HTML}, inspection=False)
    told = server.post(client, one, 1).json()
    assert [each["verdict"] for each in told["receipts"]] == ["counted"] * 9
    assert lines_in(server.folder) == one.lines
    again = LogServer(server.folder, [one])
    server.kill()
    with again.start() as running, running.client() as client_again:
        assert {each["state"] for each in running.post(client_again, one, 1).json()["receipts"]} == {"already"}


SERIAL = {
    "sha256": "5" * 64, "bytes": 600_000, "type": "image/jpeg", "width": 2560, "height": 1920, "shows": "serial",
}  # fmt: skip


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"{", "unparseable"),
        (b"\xff\xfe", "unparseable"),
        (b'{"v":1,"v":1}', "doubled_key"),
        (b'{"v":1.5}', "not_whole"),
        (b'"' + b"x" * 65536 + b'"', "unparseable"),
        (b'"a\x1db"', "unparseable"),
    ],
)
def test_a_line_nobody_can_read_takes_its_place_and_the_next_one_counts(
    server: LogServer, client: httpx.Client, one: Tablet, line: bytes, reason: str
) -> None:
    one.lines.append(line)
    one.hashes.append(entry_hash(line))
    one.write("scope.received", {"place": "sink"})
    told = server.post(client, one, 1).json()
    assert [each.get("reason", "counted") for each in told["receipts"]] == [reason, "counted"]
    assert lines_in(server.folder) == one.lines


@pytest.mark.parametrize("first", ["", "0", "-1", "1e3", "x", "9" * 40])
def test_a_place_that_is_none_is_refused_in_words(
    server: LogServer, client: httpx.Client, one: Tablet, first: str
) -> None:
    one.inspection()
    refused = server.post_body(client, one, first, one.batch())
    assert (refused.status_code, refused.json()["trouble"]["code"]) == (422, "not_lines")
    assert lines_in(server.folder) == []


def test_more_than_2_mib_is_refused_before_it_is_read(server: LogServer, client: httpx.Client, one: Tablet) -> None:
    refused = server.post_body(client, one, 1, b"x" * (2 * 1024 * 1024 + 1))
    assert (refused.status_code, refused.json()["trouble"]["code"]) == (413, "too_much")
    pieces = (b"x" * 65536 for _ in range(40))
    path = f"/chains/{one.chain}/entries?from=1"
    chunked = client.post(path, content=pieces, headers={"x-test-station": one.name})
    assert chunked.status_code == 413


def test_the_chain_of_another_tablet_and_an_unknown_one_are_refused(
    server: LogServer, client: httpx.Client, one: Tablet
) -> None:
    one.inspection()
    thief = Tablet("sink 9", key=one.key)
    thief.lines, thief.hashes = one.lines, one.hashes
    assert server.post(client, thief, 1).json()["trouble"]["code"] == "other_station"
    stranger = Tablet("sink 1")
    stranger.inspection()
    assert server.post(client, stranger, 1).json()["trouble"]["code"] == "chain_unknown"
    body = signed(stranger.key, one.chain, len(one.lines), one.hashes[-1], one.lines)
    assert server.post_body(client, one, 1, body).json()["trouble"]["code"] == "head_wrong"
    assert lines_in(server.folder) == []
