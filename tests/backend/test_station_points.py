"""A tablet is told at which points of the cycle each station may look: the lead's choice, not the usual of its side."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from whole_server import PLACE, WholeServer

pytestmark = pytest.mark.sink


@pytest.fixture
def server(tmp_path: Path) -> Iterator[WholeServer]:
    server = WholeServer(tmp_path)
    yield server
    server.close()


def test_the_points_a_lead_chose_for_a_station_come_with_the_cards(server: WholeServer) -> None:
    wish = {"name": "Sink 2", "place": PLACE, "side": "both", "points": ["at_leak_test", "before_use"]}
    told = server.desk.browser.post("/door/invite", wish)
    assert told.status_code == 201, told.text
    tablet = server.stranger("Sink 2").enrol(str(told.json()["code"]))
    stations = {row["name"]: row for row in tablet.browser.get("/cards?since=0").json()["stations"]}
    assert stations["Sink 2"]["points"] == ["at_leak_test", "before_use"]
