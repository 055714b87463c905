"""Borescopes: their sizes, their use and their processing, and that tables of another shape are made anew."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from loupebook import __version__, demo
from loupebook.cards.cards import cards
from loupebook.folder import open_folder
from loupebook.installation import Installation
from sqlalchemy import text
from story import Tables, Writer, card_sources, taken

pytestmark = pytest.mark.breadth
B3 = {"tool": "B-3"}


def registered(writer: Writer, **more: Any) -> str:
    body = {"what": "borescope", "place": "Decontamination", "width_um": 1900, "length_mm": 1900, "codes": ["B-3"]}
    return writer.write("tool.registered", body | more, about=B3)


def used(writer: Writer) -> str:
    writer.begin()
    writer.serial()
    return writer.write(
        "channel.looked", {"channel": "ch_instrument", "outcome": "through", "way": "from_port", "borescope": "B-3"}
    )


def tool(tables: Tables) -> dict[str, Any]:
    with tables.reading() as connection:
        found = json.loads(json.dumps(cards(connection, card_sources(tables), "Decontamination", 0, "first")))
    (one,) = found["tools"]
    return dict(one)


def owes(card: dict[str, Any]) -> bool:
    return card["used_ms"] is not None and card["used_ms"] > (card["processed_ms"] or 0)


def test_a_borescope_owes_processing_from_its_use_until_it_is_processed() -> None:
    """After every use, per its own instructions: common practice, no source."""
    one = Writer("Sink 1")
    registered(one)
    assert not owes(tool(taken(one)))
    used(one)
    after_use = tool(taken(one))
    assert owes(after_use) and (after_use["width_um"], after_use["length_mm"]) == (1900, 1900)
    one.write("tool.processed", {"place": "Decontamination"}, about=B3)
    assert not owes(tool(taken(one)))
    used(one)
    assert owes(tool(taken(one)))


def test_a_use_taken_back_owes_nothing_and_a_processing_taken_back_owes_again() -> None:
    one = Writer("Sink 1")
    registered(one)
    one.withdraw(used(one))
    assert not owes(tool(taken(one)))
    used(one)
    one.withdraw(one.write("tool.processed", {"place": "Decontamination"}, about=B3))
    assert owes(tool(taken(one)))


def test_the_newest_registration_that_stands_counts() -> None:
    one = Writer("Sink 1")
    registered(one)
    registered(one, width_um=1600)
    assert tool(taken(one))["width_um"] == 1600
    one.withdraw(registered(one, width_um=2600))
    assert tool(taken(one))["width_um"] == 1600
    one.correct(registered(one, width_um=2700), {"what": "borescope", "place": "Room 2", "width_um": 2400})
    assert (tool(taken(one))["width_um"], tool(taken(one))["place"]) == (2400, "Room 2")


def test_tables_of_an_earlier_shape_are_made_anew_at_start(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    instance = open_folder(folder, "demo", __version__)
    demo.lay_in(folder, instance.id, __version__)
    first = Installation(folder, instance.id, __version__)
    with first.engine.begin() as connection:
        before = connection.execute(text("SELECT count(*) FROM part_marks")).scalar_one()
        connection.execute(text("ALTER TABLE readings DROP COLUMN note"))
        connection.execute(text("DROP TABLE tool_records"))
    first.close()
    again = Installation(shutil.copytree(folder, tmp_path / "copy"), instance.id, __version__)
    with again.log.reading() as connection:
        assert connection.execute(text("SELECT count(*) FROM part_marks")).scalar_one() == before > 0
        assert connection.execute(text("SELECT count(note) FROM readings")).scalar_one() == 0
        assert connection.execute(text("SELECT count(*) FROM tool_records")).scalar_one() == 0
    again.close()
