"""The log: batches, verdicts, receipts, forks. On SQLite in a folder, with the features' real folds."""

import asyncio
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from loupebook.log.append import Appender
from loupebook.log.photos import photo_stored
from loupebook.log.tables import entries, photos_named, strays
from loupebook.log.trouble import Gap, HeadWrong, NotUnderstood, OtherStation, TooMuch, UnknownChain
from loupebook.log.writer import Transaction
from loupebook.record.heads import make_key
from loupebook.record.lines import write_line
from sqlalchemy import func, select
from story import photo
from tablet import BY_PIN, LEAD, Tablet, World, signed

pytestmark = pytest.mark.sink


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    world = World(tmp_path)
    yield world
    world.close()


@pytest.fixture
def one(world: World) -> Tablet:
    return world.tablet()


def stored(world: World, what: Any) -> list[Any]:
    with world.log.reading() as connection:
        return [tuple(row) for row in connection.execute(what)]


# ---------------------------------------------------------------- receipts


def test_a_whole_inspection_counts_and_its_receipts_repeat_the_hashes(world: World, one: Tablet) -> None:
    one.inspection()
    answer = world.send(one)
    assert [receipt["hash"] for receipt in answer["receipts"]] == one.hashes
    assert {receipt["state"] for receipt in answer["receipts"]} == {"stored"}
    assert {receipt["verdict"] for receipt in answer["receipts"]} == {"counted"}
    assert (answer["seq"], answer["hash"]) == (len(one.lines), one.hashes[-1])
    assert answer["epoch"] == world.log.epoch()._asdict()
    assert "forked" not in answer
    assert len(world.rows()["part_marks"]) == 5


def test_what_is_stored_are_the_bytes_that_came(world: World, one: Tablet) -> None:
    one.inspection()
    world.send(one)
    assert stored(world, select(entries.c.line, entries.c.hash).order_by(entries.c.seq)) == list(
        zip(one.lines, one.hashes, strict=True)
    )


def test_a_batch_sent_again_is_already_there_and_nothing_is_doubled(world: World, one: Tablet) -> None:
    one.inspection()
    world.send(one)
    before = world.rows(), stored(world, select(entries))
    again = world.send(one)
    assert {receipt["state"] for receipt in again["receipts"]} == {"already"}
    assert [receipt["hash"] for receipt in again["receipts"]] == one.hashes
    assert (world.rows(), stored(world, select(entries))) == before


def test_a_batch_that_overlaps_brings_only_what_is_new(world: World, one: Tablet) -> None:
    one.inspection()
    world.send(one, 1, 4)
    states = [receipt["state"] for receipt in world.send(one, 3)["receipts"]]
    assert states == ["already", "already"] + ["stored"] * (len(one.lines) - 4)
    assert len(stored(world, select(entries))) == len(one.lines)


def test_a_gap_is_refused_with_what_the_server_has(world: World, one: Tablet) -> None:
    one.inspection()
    with pytest.raises(Gap) as gap:
        world.send(one, 2)
    assert (gap.value.seq, gap.value.hash) == (0, None)
    world.send(one, 1, 3)
    with pytest.raises(Gap) as gap:
        world.send(one, 5)
    assert (gap.value.seq, gap.value.hash) == (3, one.hashes[2])
    assert len(stored(world, select(entries))) == 3


def test_the_head_answers_how_far_a_chain_is(world: World, one: Tablet) -> None:
    assert world.log.head(one.chain)[:2] == (0, None)
    one.inspection()
    world.send(one)
    assert world.log.head(one.chain)[:2] == (len(one.lines), one.hashes[-1])
    assert world.log.head(one.chain).build == "test"


def test_wanted_are_the_photos_named_and_not_here(world: World, one: Tablet) -> None:
    one.begin()
    one.serial()
    one.find("lens", "scratch", [photo("a"), photo("b"), photo("a")], since="same")
    wanted = world.send(one)["wanted"]
    assert len(wanted) == 3 and wanted[1:] == [photo("a")["sha256"], photo("b")["sha256"]]
    assert len(stored(world, select(photos_named.c.sha256))) == 3


# ---------------------------------------------------------------- who sends


@pytest.mark.parametrize("number", [1, 8, 9, 40, 41, 95])
def test_of_many_photos_those_that_are_here_are_not_wanted(world: World, one: Tablet, number: int) -> None:
    """They are asked for in questions of fixed lengths; none is missed at a seam."""
    named = [photo(f"{each}", "serial") for each in range(number)]
    for each in (0, number // 2, number - 1):
        photo_stored(world.log, str(named[each]["sha256"]), 600_000)
    one.begin("before_use")
    for each in named:
        one.write("serial.photographed", {"how": "code", "agrees": "yes"}, [each])
    left = [each["sha256"] for at, each in enumerate(named) if at not in (0, number // 2, number - 1)]
    assert world.send(one)["wanted"] == left


def test_an_unknown_chain_is_refused(world: World) -> None:
    stranger = Tablet("stranger")
    stranger.inspection()
    with pytest.raises(UnknownChain):
        world.log.intake(stranger.chain, 1, stranger.batch(), "stranger")
    assert stored(world, select(entries)) == []


def test_a_chain_is_taken_from_its_own_station_only(world: World, one: Tablet) -> None:
    one.inspection()
    with pytest.raises(OtherStation):
        world.log.intake(one.chain, 1, one.batch(), "sink 2")
    assert stored(world, select(entries)) == []


@pytest.mark.parametrize("what", ["key", "seq", "hash", "cut", "line"])
def test_a_head_that_is_not_the_lines_own_stores_nothing(world: World, one: Tablet, what: str) -> None:
    one.inspection()
    end, last, lines, key = len(one.lines), one.hashes[-1], one.lines, one.key
    body = {
        "key": lambda: signed(make_key(), one.chain, end, last, lines),
        "seq": lambda: signed(key, one.chain, end + 1, last, lines),
        "hash": lambda: signed(key, one.chain, end, one.hashes[0], lines),
        "cut": lambda: signed(key, one.chain, end, last, lines[:-1]),
        "line": lambda: signed(key, one.chain, end, last, [*lines[:-1], lines[-1].replace(b"test", b"tast")]),
    }[what]()
    with pytest.raises(HeadWrong):
        world.log.intake(one.chain, 1, body, one.name)
    assert stored(world, select(entries)) == []


@pytest.mark.parametrize("body", [b"", b"\n", b"{}", b"nothing", b'{"head":{"seq":1}}', b"\xff\n"])
def test_a_body_without_a_head_is_not_understood(world: World, one: Tablet, body: bytes) -> None:
    with pytest.raises(NotUnderstood):
        world.log.intake(one.chain, 1, body, one.name)


def test_a_head_alone_asks_how_far_the_server_is(world: World, one: Tablet) -> None:
    one.inspection()
    world.send(one)
    body = signed(one.key, one.chain, len(one.lines), one.hashes[-1], [])
    answer = world.log.intake(one.chain, len(one.lines) + 1, body, one.name)
    assert (answer.seq, answer.receipts) == (len(one.lines), [])


def test_more_than_200_lines_or_2_mib_are_refused_whole(world: World, one: Tablet) -> None:
    for _ in range(201):
        one.write("scope.received", {"place": "sink"})
    with pytest.raises(TooMuch):
        world.send(one)
    assert set(world.said(one, 1, 200)) == {"counted"}
    with pytest.raises(TooMuch):
        world.log.intake(one.chain, 201, b"x" * (2 * 1024 * 1024 + 1), one.name)


# ---------------------------------------------------------------- door verdicts


def with_line(one: Tablet, line: bytes) -> None:
    """Puts bytes of our choice on the chain, as a hand-made chain could."""
    from loupebook.record.hashes import entry_hash

    one.lines.append(line)
    one.hashes.append(entry_hash(line))


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (lambda line: b"{", "unparseable"),
        (lambda line: b"", "unparseable"),
        (lambda line: b'{"a":"' + b"x" * 70_000 + b'"}', "unparseable"),
        (lambda line: line.replace(b'"v":1', b'"v":1,"v":1'), "doubled_key"),
        (lambda line: line.replace(b'"place":"sink"', b'"place":"sink","n":1.5'), "not_whole"),
        (lambda line: line.replace(b"scope.received", b"scope.vanished"), "unknown_kind"),
        (lambda line: line.replace(b"scope.received", b"person.added"), "bad_body"),
        (lambda line: line.replace(b'"place":"sink"', b'"plice":"sink"'), "bad_body"),
        (lambda line: line.replace(b'"seq":2', b'"seq":3'), "wrong_seq"),
        (lambda line: line.replace(b'"person":"ila.venn"', b'"person":"nobody"'), "person_unknown"),
    ],
)
def test_a_line_that_does_not_come_in_is_kept_and_the_chain_goes_on(
    world: World, one: Tablet, change: Any, reason: str
) -> None:
    one.write("scope.received", {"place": "sink"})
    one.write("scope.received", {"place": "sink"})
    line = change(one.lines.pop())
    one.hashes.pop()
    with_line(one, line)
    one.write("scope.received", {"place": "sink"})
    assert world.said(one) == ["counted", reason, "counted"]
    assert stored(world, select(entries.c.line).where(entries.c.seq == 2)) == [(line,)]
    assert world.asides() == {one.hashes[1]: reason}


def test_a_server_kind_on_a_tablets_chain_is_not_known_there(world: World, one: Tablet) -> None:
    one.write("person.added", {"person": "ila.venn", "roles": ["lead"]}, inspection=False)
    assert world.said(one) == ["unknown_kind"]


def test_a_line_of_another_chain_is_put_aside(world: World, one: Tablet) -> None:
    other = world.tablet("sink 2")
    other.write("scope.received", {"place": "sink"})
    with_line(one, other.lines[0])
    assert world.said(one) == ["wrong_chain"]
    assert world.said(other) == ["counted"], "the same bytes in their own place"


def test_a_broken_link_inside_a_batch_is_put_aside(world: World, one: Tablet) -> None:
    one.write("scope.received", {"place": "sink"})
    first = one.hashes[0]
    one.write("scope.received", {"place": "sink"})
    with_line(one, one.lines.pop().replace(first.encode(), b"0" * 64))
    one.hashes.pop(1)
    assert world.said(one) == ["counted", "broken_link"]


def test_the_first_line_of_a_chain_follows_the_chains_own_name(world: World, one: Tablet) -> None:
    one.write("scope.received", {"place": "sink"})
    with_line(one, one.lines.pop().replace(b'"prev":"' + one.chain.encode(), b'"prev":"' + b"0" * 64))
    one.hashes.pop(0)
    assert world.said(one) == ["broken_link"]


def test_everything_of_a_revoked_station_is_kept_and_put_aside(world: World, one: Tablet) -> None:
    one.inspection()
    world.door.stations[one.chain].revoked = True
    assert set(world.said(one)) == {"station_revoked"}
    assert world.rows()["inspection_parts"] == []
    assert [line for (line,) in stored(world, select(entries.c.line).order_by(entries.c.seq))] == one.lines
    assert len(world.send(one)["wanted"]) == 1, "its photos may come too"


def test_a_person_who_left_and_a_role_that_may_not_are_put_aside(world: World, one: Tablet) -> None:
    world.door.people["ila.venn"].active = False
    world.door.people["rin.oake"].roles = ["auditor"]
    one.write("scope.received", {"place": "sink"})
    one.person = "rin.oake"
    one.write("scope.received", {"place": "sink"})
    assert world.said(one) == ["person_inactive", "role_may_not"]


def test_what_changes_at_the_door_holds_from_the_next_batch_on(world: World, one: Tablet) -> None:
    one.write("scope.received", {"place": "sink"})
    assert world.said(one) == ["counted"]
    world.door.people["ila.venn"].active = False
    with world.log.writing():
        pass
    one.write("scope.received", {"place": "sink"})
    assert world.said(one, 2) == ["person_inactive"]


def test_a_group_separator_and_html_are_kept_as_they_came(world: World, one: Tablet) -> None:
    html = "<img src=x onerror=alert(1)>"
    one.scope = "mms:ALDER|C1|A\u001dB"
    one.begin(shift=f"sink/2025-11-25/{html}")
    one.serial(where=html)
    one.find("lens", "scratch", note=html, since="same")
    assert set(world.said(one)) == {"counted"}
    assert {scope for (scope,) in stored(world, select(entries.c.scope))} == {"mms:ALDER|C1|A\u001dB"}
    assert html in str(world.rows()["findings"]) and html in str(world.rows()["inspection_parts"])


# ---------------------------------------------------------------- chain verdicts


def test_the_serial_photo_comes_first_even_on_a_hand_made_chain(world: World, one: Tablet) -> None:
    one.begin()
    one.find("lens", "scratch", [photo("x", "finding")], since="same")
    one.mark("lens")
    one.write("hold.placed", {"reason": "doubt", "tag_on": True})
    assert world.said(one) == ["counted", "serial_first", "serial_first", "counted"]
    assert world.rows()["findings"] == []


def test_an_unknown_catalogue_puts_the_beginning_aside_and_the_rest_waits(world: World, one: Tablet) -> None:
    one.begin(catalogue="0" * 64)
    one.serial()
    assert world.said(one) == ["catalogue_unknown", "waits"]
    one.begin(policy="0" * 64)
    assert world.said(one, 3) == ["policy_unknown"]


def test_states_are_made_again_after_a_new_start(tmp_path: Path) -> None:
    before = World(tmp_path)
    one = before.tablet()
    one.begin("before_use")
    one.serial()
    before.send(one)
    before.close()
    after = World(tmp_path)
    after.door = before.door
    after.log.close()
    after = World(tmp_path)
    after.door.stations.update(before.door.stations)
    one.mark("lens")
    one.mark("no_such_part")
    assert after.said(one, 3) == ["counted", "part_not_on_route"]
    after.close()


def test_a_loose_hold_can_be_taken_back_once(world: World, one: Tablet) -> None:
    hold = one.write("hold.placed", {"reason": "doubt", "tag_on": True})
    one.withdraw(hold)
    one.withdraw(hold)
    one.withdraw("0" * 64)
    assert world.said(one) == ["counted", "counted", "target_not_here", "target_not_here"]


def test_a_correction_must_fit_the_kind_it_corrects(world: World, one: Tablet) -> None:
    one.begin()
    one.serial()
    mark = one.mark("lens")
    one.correct(mark, {"nothing": 1})
    one.correct(mark, {"mark": "could_not_look", "parts": ["lens"], "reason": "too_wet"})
    assert world.said(one)[3:] == ["bad_body", "counted"]


def test_what_is_withdrawn_on_another_chain_is_not_here(world: World, one: Tablet) -> None:
    two = world.tablet("sink 2")
    hold = one.write("hold.placed", {"reason": "doubt", "tag_on": True})
    world.send(one)
    two.withdraw(hold)
    assert world.said(two) == ["target_not_here"]


# ---------------------------------------------------------------- forks


def fork(one: Tablet, at: int) -> Tablet:
    """The same key again, with another history from seq `at` on."""
    twin = Tablet(one.name, key=one.key, begun=one.begun, at=one.at)
    twin.lines, twin.hashes = one.lines[: at - 1], one.hashes[: at - 1]
    return twin


def test_the_same_seq_with_another_hash_is_a_fork_and_both_are_kept(world: World, one: Tablet) -> None:
    one.inspection()
    world.send(one)
    twin = fork(one, 4)
    twin.mark("valves")
    twin.mark("lens")
    answer = world.send(twin, 2)
    assert [receipt["state"] for receipt in answer["receipts"]] == ["already", "already", "stray", "stray"]
    assert {receipt.get("reason") for receipt in answer["receipts"][2:]} == {"forked"}
    assert answer["forked"] is True
    assert (answer["seq"], answer["hash"]) == (len(one.lines), one.hashes[-1]), "our chain stays as it was"
    assert stored(world, select(strays.c.line).order_by(strays.c.seq)) == [(line,) for line in twin.lines[3:]]
    assert world.send(twin, 2)["receipts"] == answer["receipts"], "again: the same answer, nothing doubled"
    assert len(stored(world, select(strays))) == 2


def test_a_fork_that_goes_on_past_our_head_is_seen_by_its_link(world: World, one: Tablet) -> None:
    one.inspection()
    world.send(one, 1, 3)
    twin = fork(one, 3)
    for _ in range(3):
        twin.mark("valves")
    answer = world.send(twin, 4)
    assert [receipt["state"] for receipt in answer["receipts"]] == ["stray", "stray"] and answer["forked"]
    assert set(world.said(one, 4)) == {"counted"}, "the chain we have goes on"


def test_photos_of_strays_may_be_sent(world: World, one: Tablet) -> None:
    one.begin()
    world.send(one)
    twin = fork(one, 1)
    twin.begin(shift="other")
    twin.write("serial.photographed", {"how": "code", "agrees": "yes"}, [photo("s", "serial")])
    assert world.send(twin)["wanted"] == [photo("s")["sha256"]]


# ---------------------------------------------------------------- the writer


class Held:
    """Keeps the writer in a transaction until let go, so that what comes meanwhile waits together."""

    def __init__(self, world: World) -> None:
        self._entered, self._go = threading.Event(), threading.Event()
        self._done = world.log.submit(self._hold)
        assert self._entered.wait(10)

    def _hold(self, _: Transaction) -> None:
        self._entered.set()
        assert self._go.wait(10)

    def let_go(self) -> None:
        self._go.set()
        self._done.result(10)


def wait_for(world: World, jobs: int) -> None:
    """Until so many wait for the writer, which is held."""
    while world.log.waiting < jobs:
        threading.Event().wait(0.001)


def test_all_who_wait_are_committed_once(world: World) -> None:
    tablets = [world.tablet(f"sink {number}") for number in range(12)]
    for each in tablets:
        each.inspection()
    held = Held(world)
    before = world.log.commits
    with ThreadPoolExecutor(12) as threads:
        answers = [threads.submit(world.said, each) for each in tablets]
        wait_for(world, 12)
        held.let_go()
        assert all(set(answer.result(30)) == {"counted"} for answer in answers)
    assert world.log.commits == before + 2, "the one that was held, and one for all twelve"


def test_a_job_that_fails_is_undone_alone(world: World, one: Tablet, monkeypatch: pytest.MonkeyPatch) -> None:
    two = world.tablet("sink 2")
    one.inspection()
    two.inspection()

    def fails(transaction: Transaction) -> None:
        transaction.cursor.execute("DELETE FROM log_facts")
        raise ValueError("planted")

    held = Held(world)
    with ThreadPoolExecutor(2) as threads:
        first = threads.submit(world.said, one)
        wait_for(world, 1)
        planted = world.log.submit(fails)
        second = threads.submit(world.said, two)
        wait_for(world, 3)
        held.let_go()
        assert set(first.result(30)) == set(second.result(30)) == {"counted"}
        with pytest.raises(ValueError, match="planted"):
            planted.result(30)
    with world.log.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM log_facts").scalar_one() == 3


def test_a_batch_that_is_refused_harms_none_of_those_it_is_committed_with(world: World) -> None:
    """Batches are written together: the refusal undoes all of them, and they are run again one by one, each once."""
    tablets = [world.tablet(f"sink {number}") for number in range(4)]
    for each in tablets:
        each.inspection()
    held = Held(world)
    before = world.log.commits
    with ThreadPoolExecutor(4) as threads:
        answers = [threads.submit(world.said, each) for each in tablets[:2]]
        wait_for(world, 2)
        gap = threads.submit(world.said, tablets[2], 3)
        wait_for(world, 3)
        last = threads.submit(world.said, tablets[3])
        wait_for(world, 4)
        held.let_go()
        assert all(set(answer.result(30)) == {"counted"} for answer in (*answers, last))
        with pytest.raises(Gap):
            gap.result(30)
    assert world.log.commits == before + 2, "still one for all of them"
    good = [hash for each in (tablets[0], tablets[1], tablets[3]) for hash in each.hashes]
    assert sorted(row[0] for row in stored(world, select(entries.c.hash))) == sorted(good)
    assert sorted(row[0] for row in world.rows()["acts"]) == sorted(good)
    assert stored(world, select(func.max(entries.c.position)))[0][0] == len(good)


def test_a_fold_that_breaks_undoes_its_batch_and_a_repeat_brings_it(
    world: World, one: Tablet, monkeypatch: pytest.MonkeyPatch
) -> None:
    one.inspection()
    right = Appender.fold

    def breaks(self: Appender, transaction: Transaction, position: int, *rest: Any) -> None:
        if position == 5:
            raise RuntimeError("planted")
        right(self, transaction, position, *rest)

    with monkeypatch.context() as patch:
        patch.setattr(Appender, "fold", breaks)
        with pytest.raises(RuntimeError, match="planted"):
            world.send(one)
    assert stored(world, select(entries)) == []
    assert world.rows()["acts"] == []
    assert set(world.said(one)) == {"counted"}


def test_two_senders_of_one_seq_at_once_store_it_once(world: World, one: Tablet) -> None:
    one.inspection()
    held = Held(world)
    with ThreadPoolExecutor(6) as threads:
        answers = [threads.submit(world.send, one) for _ in range(6)]
        wait_for(world, 6)
        held.let_go()
        states = sorted(answer.result(30)["receipts"][0]["state"] for answer in answers)
    assert states == ["already"] * 5 + ["stored"]
    assert len(stored(world, select(entries))) == len(one.lines)


def test_positions_are_whole_and_in_commit_order(world: World) -> None:
    tablets = [world.tablet(f"sink {number}") for number in range(4)]
    for each in tablets:
        each.inspection()
    for start in (1, 4):
        for each in tablets:
            world.send(each, start, start + 2)
    positions = [position for (position,) in stored(world, select(entries.c.position).order_by(entries.c.position))]
    assert positions == list(range(1, 25))
    assert world.log.position == 24


def test_who_waits_for_a_change_is_woken_by_it(world: World, one: Tablet) -> None:
    one.inspection()

    async def waits() -> tuple[int, int]:
        waiting = asyncio.create_task(world.log.changed(0, 30))
        await world.log.take(one.chain, 1, one.batch(), one.name)
        return await waiting, await world.log.changed(world.log.position, 0.01)

    assert asyncio.run(waits()) == (len(one.lines), len(one.lines))


def test_after_closing_nothing_is_taken_and_what_was_handed_in_is_written(tmp_path: Path) -> None:
    from loupebook.log.trouble import Closed

    world = World(tmp_path)
    one = world.tablet()
    one.inspection()
    waiting = world.log.submit(lambda transaction: transaction.next_position())
    world.log.close()
    assert waiting.result(1) == 1
    with pytest.raises(Closed):
        world.send(one)
    world.engine.dispose()


# ---------------------------------------------------------------- the server's own chain


def test_the_servers_entries_are_chained_signed_and_folded(world: World) -> None:
    from loupebook.log.tables import heads
    from loupebook.record.heads import verify_head
    from loupebook.record.kinds import About

    body = {"scope_kind": "colonoscope", "serial": "2741906"}
    for _ in range(3):
        world.log.append_server("scope.described", About(scope="udi:1/2"), body, LEAD, BY_PIN)
    chain = world.log.server.chain
    found = stored(world, select(heads.c.seq, heads.c.hash, heads.c.sig).where(heads.c.chain == chain))
    assert [seq for seq, _, _ in found] == [1, 2, 3]
    assert all(verify_head(world.log.server.spki, chain, *head) for head in found)
    assert world.log.head(chain).seq == 3


@pytest.mark.parametrize(
    ("kind", "body"),
    [("part.marked", {"mark": "nothing_found", "parts": ["lens"]}), ("hold.decided", {}), ("vanished", {})],
)
def test_what_the_server_may_not_write_is_refused(world: World, kind: str, body: dict[str, object]) -> None:
    from loupebook.log.trouble import NotAllowedHere
    from loupebook.record.kinds import About

    with pytest.raises(NotAllowedHere):
        world.log.append_server(kind, About(), body, LEAD, BY_PIN)
    assert stored(world, select(entries)) == []


def test_a_check_that_refuses_undoes_what_it_wrote(world: World) -> None:
    from loupebook.record.kinds import About
    from sqlalchemy import Connection, text

    def check(connection: Connection) -> None:
        connection.execute(text("DELETE FROM log_facts"))
        raise PermissionError("no")

    with pytest.raises(PermissionError):
        world.log.append_server("policy.set", About(), {"sha256": "0" * 64, "reason": "x"}, LEAD, BY_PIN, check)
    with world.log.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM log_facts").scalar_one() == 3
    assert stored(world, select(entries)) == []


def test_a_line_is_written_as_the_contract_says(one: Tablet) -> None:
    one.write("scope.received", {"place": "sink"})
    assert one.lines[0].startswith(b'{"v":1,"chain":"' + one.chain.encode() + b'","seq":1,"prev":"')
    assert b"\n" not in one.lines[0] and write_line  # the writer of lines has its own vectors
