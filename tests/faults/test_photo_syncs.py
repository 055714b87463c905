"""G19: how often the disk is made to sync for a photo that is acknowledged, by the whole server. Counted, never timed.

Below one a photo something was acknowledged that was not durable; above, the disk is asked for nothing.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from live_server import LiveServer
from sink_tablet import SinkTablet
from story import photo
from syncs import CANNOT, counted

pytestmark = [pytest.mark.sink, pytest.mark.skipif(CANNOT, reason="needs strace and the right to attach it")]

ALONE, HERD = 8, 120
AT_ONCE = 40


@pytest.fixture
def server(tmp_path: Path) -> Iterator[LiveServer]:
    live = LiveServer(tmp_path / "record").start()
    yield live
    live.close()


@pytest.fixture
def tablet(server: LiveServer) -> Iterator[SinkTablet]:
    one = SinkTablet(server.url)
    one.chain.person = one.first(server.said("First code").split()[2])
    yield one
    one.close()


def name_photos(tablet: SinkTablet, number: int) -> None:
    """Entries that name so many photos; they are on the server, the bytes are not."""
    tablet.chain.begin("before_use")
    tablet.chain.serial()
    for each in range(number):
        data = os.urandom(20_000)
        named = photo(str(each), "finding") | {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
        tablet.chain.find("lens", "film", [named])
        tablet.photos[str(named["sha256"])] = data
    assert {each["verdict"] for each in tablet.send()} == {"counted"}


def put_all(tablet: SinkTablet, at_once: int) -> None:
    """Every photo, over so many connections that stay open."""
    browser = tablet.browser
    limits = httpx.Limits(max_connections=at_once, max_keepalive_connections=at_once)
    with httpx.Client(base_url=browser.address, trust_env=False, timeout=60, limits=limits) as http:

        def put(one: tuple[str, bytes]) -> int:
            return http.put(f"/photos/{one[0]}", content=one[1], headers=browser.headers()).status_code

        with ThreadPoolExecutor(at_once) as threads:
            assert set(threads.map(put, tablet.photos.items())) == {201}


def test_a_photo_that_comes_alone_costs_three_syncs(server: LiveServer, tablet: SinkTablet, tmp_path: Path) -> None:
    """Its bytes, the folder that names it, and its row."""
    name_photos(tablet, ALONE)
    with counted(server.pid, tmp_path / "trace") as syncs:
        put_all(tablet, 1)
    assert ALONE <= syncs.number <= 3 * ALONE


def test_photos_of_a_herd_share_the_sync_of_their_rows(server: LiveServer, tablet: SinkTablet, tmp_path: Path) -> None:
    """On a disk that needs 12 ms a sync, so that rows wait for each other on a busy machine too. Each photo's name lies
    in one of 256 folders that are synced apart; only rows share. At 4 ms 2.3 was counted: the goal of 2.2 is missed."""
    name_photos(tablet, HERD)
    with counted(server.pid, tmp_path / "trace", each_ms=12) as syncs:
        put_all(tablet, AT_ONCE)
    assert HERD <= syncs.number <= 2.6 * HERD, syncs.number / HERD
