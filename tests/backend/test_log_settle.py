"""What a lead settles of the entries put aside: counted as far as the chain rules let it, or left out."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from loupebook.log.tables import verdicts
from loupebook.log.trouble import CannotCount, NotAside, RuleStands
from sqlalchemy import select
from tablet import Tablet, World

pytestmark = pytest.mark.sink


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    world = World(tmp_path)
    yield world
    world.close()


@pytest.fixture
def one(world: World) -> Tablet:
    """An inspection whose beginning is by somebody unknown here; the rest by a person we know."""
    one = world.tablet()
    one.person = "new.colleague"
    one.begin("before_use")
    one.person = "ila.venn"
    one.serial()
    one.mark("lens")
    one.write("hold.placed", {"reason": "doubt", "tag_on": True}, inspection=False)
    return one


def test_what_names_an_entry_put_aside_waits_and_the_rest_goes_on(world: World, one: Tablet) -> None:
    assert world.said(one) == ["person_unknown", "waits", "waits", "counted"]
    assert list(world.asides().values()) == ["person_unknown", "waits", "waits"]


def test_what_waits_is_known_again_at_each_start_from_the_verdicts(tmp_path: Path) -> None:
    """So it is after an update of a record that was written before it was kept."""
    world = World(tmp_path)
    one = world.tablet()
    one.person = "new.colleague"
    one.begin("before_use")
    lost = one.write("hold.placed", {"reason": "doubt", "tag_on": True}, inspection=False)
    world.send(one)
    world.settle(lost, "leave_out")
    before = world.asides()
    assert list(before) == [one.hashes[0]]
    with world.log.writing() as connection:
        connection.exec_driver_sql("UPDATE log_unsettled SET position = 2")
    world.close()
    again = World(tmp_path)
    assert again.asides() == before
    again.close()


def test_counting_the_first_lets_in_what_waited_in_chain_order(world: World, one: Tablet) -> None:
    world.send(one)
    world.settle(one.hashes[0], "count")
    assert world.asides() == {}
    assert [world.said(one)] == [["counted"] * 4]
    assert len(world.rows()["part_marks"]) == 1
    one.mark("valves")
    assert world.said(one, 5) == ["counted"]


def test_rows_that_came_in_late_say_when_they_began_to_count(world: World, one: Tablet) -> None:
    world.send(one)
    world.settle(one.hashes[0], "count")
    with world.log.reading() as connection:
        found = connection.exec_driver_sql("SELECT entry, changed FROM acts").fetchall()
    changed = dict(map(tuple, found))
    assert changed[one.hashes[3]] == 4
    assert {changed[hash] for hash in one.hashes[:3]} == {5}, "the position of the settling"


def test_leaving_the_first_out_puts_aside_what_waited(world: World, one: Tablet) -> None:
    world.send(one)
    world.settle(one.hashes[0], "leave_out")
    assert world.asides() == {one.hashes[1]: "not_begun", one.hashes[2]: "not_begun"}
    assert world.rows()["inspection_parts"] == []


def test_what_was_settled_is_not_settled_again(world: World, one: Tablet) -> None:
    world.send(one)
    world.settle(one.hashes[0], "leave_out")
    for outcome in ("count", "leave_out"):
        with pytest.raises(NotAside):
            world.settle(one.hashes[0], outcome)
    with pytest.raises(NotAside):
        world.settle(one.hashes[3], "leave_out")
    with pytest.raises(NotAside):
        world.settle("0" * 64, "count")


def test_settling_is_added_to_the_verdicts_and_replaces_none(world: World, one: Tablet) -> None:
    world.send(one)
    with world.log.reading() as connection:
        before = [tuple(row) for row in connection.execute(select(verdicts))]
    world.settle(one.hashes[0], "count")
    with world.log.reading() as connection:
        after = [tuple(row) for row in connection.execute(select(verdicts))]
    assert set(before) < set(after) and len(after) == len(before) + 4


def test_a_counted_serial_photo_lets_in_what_was_put_aside_for_want_of_it(world: World) -> None:
    one = world.tablet()
    one.begin("before_use")
    one.person = "new.colleague"
    serial = one.serial()
    one.person = "ila.venn"
    one.mark("lens")
    one.mark("no_such_part")
    assert world.said(one) == ["counted", "person_unknown", "serial_first", "serial_first"]
    world.settle(serial, "count")
    assert world.asides() == {one.hashes[3]: "part_not_on_route"}


def test_what_a_rule_of_the_chain_put_aside_cannot_be_let_in_and_says_so(world: World) -> None:
    one = world.tablet()
    one.begin("before_use")
    one.mark("lens")
    world.send(one)
    with pytest.raises(RuleStands):
        world.settle(one.hashes[1], "count")
    assert world.asides() == {one.hashes[1]: "serial_first"}, "nothing was settled"
    one.serial()
    assert world.said(one) == ["counted", "serial_first", "counted"]
    with pytest.raises(RuleStands):
        world.settle(one.hashes[1], "count")
    assert world.rows()["part_marks"] == [], "chain order: the photo came after"
    world.settle(one.hashes[1], "leave_out")
    assert world.asides() == {}


def test_what_was_let_in_and_still_does_not_count_stays_on_the_list_until_it_does(world: World) -> None:
    """Settled from the last to the first: each is let in, and counts with the one it hangs on."""
    one = world.tablet()
    one.begin("before_use")
    one.serial()
    one.mark("lens")
    world.door.stations[one.chain].revoked = True
    world.send(one)
    for hash in reversed(one.hashes):
        assert hash in world.asides()
        world.settle(hash, "count")
    assert world.asides() == {} and len(world.rows()["part_marks"]) == 1


def test_what_was_let_in_against_a_rule_that_stands_can_still_be_left_out(world: World) -> None:
    one = world.tablet()
    one.begin("before_use")
    one.person = "new.colleague"
    one.mark("lens")
    assert world.said(one) == ["counted", "person_unknown"]
    world.settle(one.hashes[1], "count")
    assert world.asides() == {one.hashes[1]: "serial_first"}, "who wrote it is settled; the rule is not"
    world.settle(one.hashes[1], "leave_out")
    assert world.asides() == {} and world.rows()["part_marks"] == []


def test_what_cannot_be_read_can_only_be_left_out(world: World) -> None:
    one = world.tablet()
    one.write("scope.received", {"place": "sink"})
    one.lines[0] = one.lines[0].replace(b'"place"', b'"plice"')
    from loupebook.record.hashes import entry_hash

    one.hashes[0] = entry_hash(one.lines[0])
    assert world.said(one) == ["bad_body"]
    with pytest.raises(CannotCount):
        world.settle(one.hashes[0], "count")
    world.settle(one.hashes[0], "leave_out")
    assert world.asides() == {}


def test_what_waits_on_an_unreadable_beginning_is_judged_when_that_is_left_out(world: World) -> None:
    from loupebook.record.hashes import entry_hash

    one = world.tablet()
    one.begin("before_use")
    one.lines[0] += b"}"
    one.hashes[0] = one.begun = entry_hash(one.lines[0])
    one.serial()
    assert world.said(one) == ["unparseable", "waits"]
    world.settle(one.hashes[0], "leave_out")
    assert world.asides() == {one.hashes[1]: "not_begun"}


def test_a_taking_back_of_a_waiting_hold_waits_with_it(world: World) -> None:
    one = world.tablet()
    one.person = "new.colleague"
    hold = one.write("hold.placed", {"reason": "doubt", "tag_on": True})
    one.person = "ila.venn"
    one.withdraw(hold)
    assert world.said(one) == ["person_unknown", "waits"]
    world.settle(hold, "count")
    assert world.said(one) == ["counted", "counted"]


def test_every_entry_of_a_revoked_tablet_can_be_let_in_one_by_one(world: World) -> None:
    one = world.tablet()
    one.inspection()
    world.door.stations[one.chain].revoked = True
    world.send(one)
    for hash in one.hashes:
        world.settle(hash, "count")
    assert world.asides() == {} and set(world.said(one)) == {"counted"}
    assert len(world.rows()["part_marks"]) == 5
