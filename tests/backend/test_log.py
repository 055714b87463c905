"""The log: batches, verdicts, receipts, forks, settling. On SQLite in a folder, with the features' real folds."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from tablet import World

pytestmark = pytest.mark.sink


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    world = World(tmp_path)
    yield world
    world.close()


def test_a_whole_inspection_counts_and_its_receipts_repeat_the_hashes(world: World) -> None:
    one = world.tablet()
    one.inspection()
    answer = world.send(one)
    assert [receipt["hash"] for receipt in answer["receipts"]] == one.hashes
    assert {receipt["state"] for receipt in answer["receipts"]} == {"stored"}
    assert {receipt["verdict"] for receipt in answer["receipts"]} == {"counted"}
    assert (answer["seq"], answer["hash"]) == (len(one.lines), one.hashes[-1])
    assert answer["epoch"] == world.log.epoch()._asdict()
    assert "forked" not in answer
    assert len(world.rows()["part_marks"]) == 5
