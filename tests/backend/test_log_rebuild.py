"""Rebuilding, backing up, bringing back, exporting: the rows and the bytes come out the same, and an epoch is told."""

import random
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from loupebook.log.backup import DATABASE, BackupRefused, back_up, bring_back
from loupebook.log.export import export
from loupebook.log.rebuild import rebuild
from loupebook.log.views import server_keys
from loupebook.record import verify
from loupebook.record.heads import public_der
from loupebook.record.kinds import About
from story import photo
from tablet import BY_PIN, FOLDS, LEAD, TABLES, Tablet, World, rows_of

pytestmark = pytest.mark.sink


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    world = World(tmp_path / "data")
    yield world
    world.close()


def a_shift(world: World) -> list[Tablet]:
    """Two tablets, a correction, a withdrawal, entries put aside and settled, a fork, a line that cannot be read."""
    one, two = world.tablet("sink 1"), world.tablet("sink 2", person="rin.oake")
    one.inspection()
    seen = one.hashes[2]
    one.correct(seen, {"part": "lens", "finding": "scratch", "grade": "severe", "since": "worse"})
    one.withdraw(one.hashes[-2])
    two.person = "new.colleague"
    waiting = two.begin("before_use", continues=one.hashes[0])
    two.person = "rin.oake"
    two.serial("no")
    two.find("lens", "scratch", [photo("a", "finding")], since="same")
    hold = two.write("hold.placed", {"reason": "doubt", "tag_on": False})
    two.withdraw(hold)
    two.lines.append(b"{")
    two.hashes.append(verify.hashlib.sha256(b"loupebook/entry/1\n{").hexdigest())
    for start in (1, 4, 7, 10):
        for each in (one, two):
            if start <= len(each.lines):
                world.send(each, start, min(start + 2, len(each.lines)))
    world.settle(waiting, "count")
    world.settle(two.hashes[-1], "leave_out")
    twin = Tablet(one.name, key=one.key)
    twin.begin()
    world.send(twin)
    about = About(scope=one.scope)
    body = {"scope_kind": "colonoscope", "serial": "2741906", "none_here": ["jet_outlet"]}
    world.log.append_server("scope.described", about, body, LEAD, BY_PIN)
    return [one, two]


# ---------------------------------------------------------------- rebuild


def test_rebuilding_gives_the_same_rows(world: World) -> None:
    a_shift(world)
    before = world.rows()
    assert sum(map(len, before.values())) > 30
    with world.engine.begin() as connection:
        for table in TABLES:
            connection.execute(table.delete())
    rebuilt = rebuild(world.engine, FOLDS, TABLES)
    assert world.rows() == before
    assert rebuilt.tables == len(TABLES) and rebuilt.entries == 11 + 5 + 3


def test_rebuilding_makes_no_verdict(world: World) -> None:
    a_shift(world)

    def verdicts() -> list[tuple[object, ...]]:
        with world.log.reading() as connection:
            return [tuple(row) for row in connection.exec_driver_sql("SELECT * FROM log_verdicts ORDER BY 1, 2")]

    before = verdicts()
    world.door.people.clear()
    rebuild(world.engine, FOLDS, TABLES)
    assert verdicts() == before


def test_a_fold_that_breaks_while_rebuilding_leaves_the_rows_as_they_were(world: World) -> None:
    a_shift(world)
    before = world.rows()

    def breaks(_: object) -> list[object]:
        raise RuntimeError("planted")

    with pytest.raises(RuntimeError):
        rebuild(world.engine, {**FOLDS, "hold.placed": [breaks]}, TABLES)  # type: ignore[dict-item]
    assert world.rows() == before


# ---------------------------------------------------------------- interleaving, through the whole log


def chains_of(world: World) -> list[Tablet]:
    one, two = world.tablet("sink 1"), world.tablet("sink 2", person="rin.oake")
    begun = one.inspection()
    two.begin("before_use", continues=begun)
    two.serial("no")
    seen = two.find("lens", "scratch", [photo("a", "finding")], since="same")
    two.correct(seen, {"part": "lens", "finding": "scratch", "grade": "severe", "since": "same"})
    two.mark("lens")
    two.withdraw(two.hashes[-1])
    two.write("inspection.abandoned", {"reason": "interrupted"})
    return [one, two]


def without_arrival(world: World) -> dict[str, list[tuple[object, ...]]]:
    """All rows but what tells the order or the moment of arrival."""
    arrival = {"changed", "received_at", "clock_off_ms"}
    found = {}
    with world.engine.connect() as connection:
        for table in TABLES:
            keep = [column for column in table.c if column.name not in arrival]
            if keep:
                rows = connection.execute(table.select().with_only_columns(*keep))
                found[table.name] = sorted((tuple(row) for row in rows), key=repr)
    return found


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(chance=st.randoms(use_true_random=False))
def test_any_interleaving_that_keeps_each_chains_order_ends_in_the_same_rows(
    tmp_path_factory: pytest.TempPathFactory, chance: random.Random
) -> None:
    first = World(tmp_path_factory.mktemp("in_turn"))
    tablets = chains_of(first)
    for each in tablets:
        assert set(first.said(each)) == {"counted"}
    mixed = World(tmp_path_factory.mktemp("mixed"))
    mixed.door.stations = first.door.stations
    sent = dict.fromkeys(range(len(tablets)), 0)
    while open_ := [index for index, done in sent.items() if done < len(tablets[index].lines)]:
        index = chance.choice(open_)
        last = min(len(tablets[index].lines), sent[index] + chance.randint(1, 3))
        mixed.send(tablets[index], chance.randint(1, sent[index] + 1), last)
        sent[index] = last
    try:
        assert without_arrival(mixed) == without_arrival(first)
    finally:
        first.close()
        mixed.close()


# ---------------------------------------------------------------- backup


def test_a_backup_is_made_while_the_record_is_in_use_and_the_chains_know_it(world: World, tmp_path: Path) -> None:
    one, _ = a_shift(world)
    copied = back_up(world.folder, tmp_path / "copy")
    assert copied.heads[one.chain] == len(one.lines)
    assert world.log.head(one.chain).backed_up_seq == len(one.lines)
    one.write("scope.received", {"place": "sink"})
    assert world.said(one, len(one.lines)) == ["counted"]
    assert world.log.head(one.chain).backed_up_seq == len(one.lines) - 1


def test_a_record_brought_back_is_a_new_epoch_and_tablets_fill_it_again(world: World, tmp_path: Path) -> None:
    one, two = a_shift(world)
    back_up(world.folder, tmp_path / "copy")
    one.write("scope.received", {"place": "sink"})
    world.send(one, len(one.lines))
    before = world.log.epoch()
    epoch = bring_back(tmp_path / "copy", tmp_path / "again")
    again = World(tmp_path / "again")
    again.door.stations = world.door.stations
    assert (epoch.n, epoch.id != before.id) == (before.n + 1, True) and again.log.epoch() == epoch
    assert again.log.head(one.chain).seq == len(one.lines) - 1
    states = [receipt["state"] for receipt in again.send(one)["receipts"]]
    assert states == ["already"] * (len(one.lines) - 1) + ["stored"]
    assert set(again.said(two)) >= {"counted"}
    assert again.rows()["part_marks"] == world.rows()["part_marks"]
    again.close()


def test_the_server_goes_on_in_a_new_chain_after_a_record_was_brought_back(world: World, tmp_path: Path) -> None:
    a_shift(world)
    back_up(world.folder, tmp_path / "copy")
    shutil.copyfile(world.folder / "server.key", tmp_path / "copy" / "server.key")
    (tmp_path / "again").mkdir()
    shutil.copyfile(world.folder / "server.key", tmp_path / "again" / "server.key")
    bring_back(tmp_path / "copy", tmp_path / "again")
    again = World(tmp_path / "again")
    assert again.log.server.chain != world.log.server.chain
    with again.log.reading() as connection:
        assert set(server_keys(connection)) == {again.log.server.chain, world.log.server.chain}
    again.close()


def test_a_backup_goes_into_a_new_folder_only_and_comes_back_where_nothing_is(world: World, tmp_path: Path) -> None:
    a_shift(world)
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "file").touch()
    for refused in (
        lambda: back_up(world.folder, tmp_path / "full"),
        lambda: back_up(tmp_path / "nothing", tmp_path / "copy"),
        lambda: bring_back(tmp_path / "nothing", tmp_path / "again"),
        lambda: bring_back(world.folder, world.folder),
    ):
        with pytest.raises(BackupRefused):
            refused()
    assert not (tmp_path / "copy").exists() and not (tmp_path / "again").exists()


def test_the_servers_key_is_for_the_server_only(world: World) -> None:
    assert (world.folder / "server.key").stat().st_mode & 0o777 == 0o600
    assert (world.folder / DATABASE).exists()


# ---------------------------------------------------------------- export


def exported(world: World, folder: Path) -> verify.Result:
    keys = {chain: row.spki for chain, row in world.door.stations.items()}
    with world.log.reading() as connection:
        return export(connection, folder, {**keys, **server_keys(connection)}, lambda _: None)


def test_an_export_is_checked_by_one_file_with_nothing_but_python(world: World, tmp_path: Path) -> None:
    tablets = a_shift(world)
    result = exported(world, tmp_path / "out")
    assert result.faults == [] and result.chains == 3
    command = [sys.executable, "-I", "-S", str(tmp_path / "out" / "verify.py"), str(tmp_path / "out")]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (run.returncode, run.stderr) == (0, "")
    lines = sum(len(each.lines) for each in tablets)
    assert run.stdout.splitlines() == [
        f"Whole: {lines + 3} entries in 3 chains, 1 put aside, 2 before a line that cannot be read, so "
        "by no signature, 0 photos, 3 photos not in this export, 0 of them erased"
    ]


def test_an_export_says_where_a_chains_key_is_missing(world: World, tmp_path: Path) -> None:
    one, _ = a_shift(world)
    with world.log.reading() as connection, pytest.raises(KeyError):
        export(connection, tmp_path / "out", {one.chain: public_der(one.key)}, lambda _: None)


def test_rows_of_two_logs_can_be_told_apart(world: World) -> None:
    before = rows_of(world.engine)
    a_shift(world)
    assert rows_of(world.engine) != before
