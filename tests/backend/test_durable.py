"""Durable by default: a start without any setting keeps what it was told, and a demo says that it is one."""

from __future__ import annotations

from pathlib import Path

import httpx
import pytest
from door_world import public_key
from live_server import LiveServer

pytestmark = pytest.mark.sink


def first_lead(live: LiveServer) -> None:
    code = live.said("First code").split()[2]
    body = {
        "code": code,
        "public_key": public_key(),
        "person": {"name": "Moira Keld", "pin": "593047"},
        "station": {"name": "Sink 1", "place": "sinks", "side": "both"},
    }
    told = httpx.post(live.url + "/door/first", json=body, headers={"X-Loupebook": "1", "Origin": live.url})
    assert told.status_code == 201, told.text


def test_what_a_plain_start_was_told_is_there_after_its_machine_went_dark(tmp_path: Path) -> None:
    live = LiveServer(tmp_path / "record").start()
    assert httpx.get(live.url + "/health").json()["people"] is False
    first_lead(live)
    live.kill()
    live.start()
    try:
        assert httpx.get(live.url + "/health").json()["people"] is True
        assert not any("First code" in line for line in live.printed[-12:])
    finally:
        live.close()


def test_a_demo_says_that_it_is_one(tmp_path: Path) -> None:
    demo = LiveServer(tmp_path / "demo", {"LOUPEBOOK_DEMO": "yes"}).start()
    demo.stop()
    own = LiveServer(tmp_path / "own").start()
    own.stop()
    assert any("Demo code" in line for line in demo.printed)
    assert not any("Demo code" in line for line in own.printed)
