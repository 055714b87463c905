"""Killed, full, failing: what was acknowledged is there, what was not is not claimed."""

import os
import random
import shutil
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from faults.log_server import LogServer
from loupebook.log.backup import DATABASE
from loupebook.log.engine import open_engine
from loupebook.log.rebuild import rebuild
from loupebook.log.tables import entries
from loupebook.log.trouble import DiskFull
from sqlalchemy import event, select, text
from tablet import FOLDS, TABLES, Tablet, World, rows_of

pytestmark = pytest.mark.sink


def kills(folder: Path, number: int, seed: int) -> None:
    """Kills the server `number` times while three tablets send, then looks at everything that was acknowledged."""
    chance = random.Random(seed)
    tablets = [Tablet(f"sink {each}", person=name) for each, name in enumerate(("ila.venn", "rin.oake", "tobin.sarr"))]
    acknowledged = dict.fromkeys((each.chain for each in tablets), 0)
    server = LogServer(folder, tablets)
    for _ in range(number):
        server.start()
        with server.client() as client:
            for each in tablets:
                head = client.get(f"/chains/{each.chain}/head", headers={"x-test-station": each.name}).json()
                assert head["seq"] >= acknowledged[each.chain], f"seed {seed}: acknowledged entries are gone"
                assert head["seq"] == 0 or head["hash"] == each.hashes[head["seq"] - 1]
                acknowledged[each.chain] = head["seq"]
        after = Acknowledged(chance.randint(1, 8))
        threads = [
            threading.Thread(target=send_on, args=(server, each, acknowledged, after, random.Random(chance.random())))
            for each in tablets
        ]
        for thread in threads:
            thread.start()
        assert after.reached.wait(30), f"seed {seed}"
        time.sleep(chance.random() * 0.004)  # the fault itself: anywhere within the next few transactions
        server.kill()
        for thread in threads:
            thread.join(30)
    check_all(folder, server, tablets, seed)


class Acknowledged:
    """Says when so many batches were acknowledged."""

    def __init__(self, wanted: int) -> None:
        self._left = wanted
        self._lock = threading.Lock()
        self.reached = threading.Event()

    def one(self) -> None:
        with self._lock:
            self._left -= 1
            if self._left <= 0:
                self.reached.set()


def send_on(
    server: LogServer, tablet: Tablet, acknowledged: dict[str, int], after: Acknowledged, chance: random.Random
) -> None:
    """Writes and sends small batches until the server is gone."""
    with server.client() as client:
        while True:
            while len(tablet.lines) < acknowledged[tablet.chain] + 5:
                write_next(tablet)
            first = acknowledged[tablet.chain] + 1
            try:
                answer = server.post(client, tablet, first, first + chance.randint(0, 4))
            except httpx.HTTPError:
                return
            assert answer.status_code == 200, answer.text
            acknowledged[tablet.chain] = answer.json()["receipts"][-1]["seq"]
            after.one()


def write_next(tablet: Tablet) -> None:
    if len(tablet.lines) % 12 == 0:
        tablet.begin("before_use")
    elif len(tablet.lines) % 12 == 1:
        tablet.serial()
    else:
        tablet.find("lens", "scratch", since="same", note=f"number {len(tablet.lines)}")


def check_all(folder: Path, server: LogServer, tablets: list[Tablet], seed: int) -> None:
    """Everything exactly once, in order, and the rows are those of the entries."""
    server.start()
    with server.client() as client:
        for each in tablets:
            head = client.get(f"/chains/{each.chain}/head", headers={"x-test-station": each.name}).json()
            for first in range(head["seq"] + 1, len(each.lines) + 1, 100):
                last = min(first + 99, len(each.lines))
                assert server.post(client, each, first, last).status_code == 200, f"seed {seed}"
    server.kill()
    engine = open_engine(folder / DATABASE)
    with engine.connect() as connection:
        for each in tablets:
            of_chain = select(entries.c.seq, entries.c.line).where(entries.c.chain == each.chain)
            found = [tuple(row) for row in connection.execute(of_chain.order_by(entries.c.seq))]
            assert found == list(enumerate(each.lines, 1)), f"seed {seed}"
        assert connection.execute(text("PRAGMA integrity_check")).scalar_one() == "ok"
    before = rows_of(engine)
    rebuild(engine, FOLDS, TABLES)
    assert rows_of(engine) == before, f"seed {seed}"
    engine.dispose()


def test_everything_acknowledged_is_there_after_25_kills(tmp_path: Path) -> None:
    kills(tmp_path, 25, seed=11)


@pytest.mark.slow
def test_everything_acknowledged_is_there_after_500_kills(tmp_path: Path) -> None:
    kills(tmp_path, 500, seed=12)


# ---------------------------------------------------------------- a disk that fails


@pytest.fixture
def failing(tmp_path: Path) -> Iterator[tuple[LogServer, Tablet, Callable[[], subprocess.Popen[str]]]]:
    """A server, a tablet, and a way to make its next sync of the database fail once."""
    if shutil.which("strace") is None or os.geteuid() != 0:
        pytest.skip("needs strace and the right to attach it")
    one = Tablet("sink 1")
    with LogServer(tmp_path, [one]) as server:
        attached: list[subprocess.Popen[str]] = []

        def fail_next_sync() -> subprocess.Popen[str]:
            command = ["strace", "-f", "-p", str(server.pid), "-e", "trace=fdatasync,fsync"]
            command += ["-e", "inject=fdatasync,fsync:error=EIO:when=1"]
            strace = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
            attached.append(strace)
            assert strace.stderr is not None
            seen = strace.stderr.readline()
            assert "attached" in seen, seen
            return strace

        yield server, one, fail_next_sync
        for strace in attached:
            strace.terminate()
            strace.communicate(timeout=60)


def test_after_a_failed_sync_nothing_is_acknowledged_and_nothing_more_is_written(
    failing: tuple[LogServer, Tablet, Callable[[], subprocess.Popen[str]]],
) -> None:
    server, one, fail_next_sync = failing
    one.inspection()
    with server.client() as client:
        assert server.post(client, one, 1, 2).status_code == 200
        fail_next_sync()
        refused = server.post(client, one, 3, 4)
        assert (refused.status_code, refused.json()["trouble"]["code"]) == (507, "writing_stopped")
        again = server.post(client, one, 3, 4)
        assert (again.status_code, again.json()["trouble"]["code"]) == (507, "writing_stopped"), "though syncs work now"
        head = client.get(f"/chains/{one.chain}/head", headers={"x-test-station": one.name})
        assert (head.status_code, head.json()["seq"]) == (200, 2), "reading goes on"
    server.kill()
    server.start()
    with server.client() as client:
        assert server.post(client, one, 3).status_code == 200, "after a new start the tablet's entries come in, once"
    server.kill()
    engine = open_engine(server.folder / DATABASE)
    with engine.connect() as connection:
        lines = [bytes(line) for (line,) in connection.execute(select(entries.c.line).order_by(entries.c.position))]
    engine.dispose()
    assert lines == one.lines


def test_on_a_full_disk_entries_are_refused_whole_and_come_in_once_there_is_room(tmp_path: Path) -> None:
    world = World(tmp_path)
    one = world.tablet()
    one.inspection()
    world.send(one)
    with world.engine.connect() as connection:
        pages = connection.execute(text("PRAGMA page_count")).scalar_one()
    limit = [pages + 4]

    @event.listens_for(world.engine, "begin")
    def _limit(connection: object) -> None:
        connection.exec_driver_sql(f"PRAGMA max_page_count={limit[0]}")  # type: ignore[attr-defined]

    done = len(one.lines)
    with pytest.raises(DiskFull):
        while True:
            one.write("scope.received", {"place": "x" * 200}, inspection=False)
            world.send(one, len(one.lines))
            done = len(one.lines)
    assert world.log.head(one.chain).seq == done, "reading goes on, and what was acknowledged is there"
    limit[0] = pages + 1000
    assert world.said(one, done + 1) == ["counted"]
    world.close()


def test_an_older_sqlite_is_used_without_wal_and_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from loupebook.log import engine as module

    monkeypatch.setattr(module, "WAL_FROM", (99, 0, 0))
    assert "older than 3.51.3" in str(module.journal_note())
    world = World(tmp_path)
    with world.engine.connect() as connection:
        assert connection.execute(text("PRAGMA journal_mode")).scalar_one() == "delete"
        assert connection.execute(text("PRAGMA synchronous")).scalar_one() == 2
    one = world.tablet()
    one.inspection()
    assert set(world.said(one)) == {"counted"}
    world.close()
