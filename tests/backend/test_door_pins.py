"""PINs: which are taken, how they are kept, and what wrong ones lead to."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Literal

import pytest
from argon2 import PasswordHasher, Type, extract_parameters
from door_world import HASHER, World, code_of, opened
from hypothesis import given
from hypothesis import strategies as st
from loupebook.door.pins import PinHasher, weakness
from loupebook.door.tries import Go, Stopped, Wait, judge_try, wait_after
from loupebook.door.words import WEAK_PIN

pytestmark = pytest.mark.sink

PIN = "739482"
WRONG = "739483"


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    with opened(tmp_path) as there:
        yield there


# ---------------------------------------------------------------- which are taken

# Patterns people choose first. The list is common practice, no source; each line names the pattern.
TOO_WEAK = [
    ("12345", "short"), ("", "not_digits"), ("73948a", "not_digits"), ("７３９４８２", "not_digits"),
    ("7394827394821", "long"),
    ("000000", "repeats"), ("121212", "repeats"), ("123123", "repeats"), ("112233", "repeats"),
    ("111222", "repeats"), ("474774", "repeats"), ("12341234", "repeats"), ("1231231", "repeats"),
    ("123456", "sequence"), ("654321", "sequence"), ("789012", "sequence"), ("246802", "sequence"),
    ("123987", "sequence"), ("12345678", "sequence"), ("135791", "sequence"),
    ("739937", "mirrored"),
    ("310785", "date"), ("073185", "date"), ("850731", "date"), ("290204", "date"), ("31071985", "date"),
    ("19850731", "date"), ("07311985", "date"), ("020525", "date"),
    ("147258", "keypad"), ("159753", "keypad"),
]  # fmt: skip


@pytest.mark.parametrize(("pin", "reason"), TOO_WEAK)
def test_a_pin_that_is_tried_first_is_not_taken(pin: str, reason: str) -> None:
    assert weakness(pin) == reason


@pytest.mark.parametrize("pin", [PIN, "618043", "904127", "320785", "29029973", "739482615047"])
def test_a_pin_without_a_pattern_is_taken(pin: str) -> None:
    """320785: there is no 32nd day and no 32nd month, and no July of 85 days."""
    assert weakness(pin) is None


@given(st.text("0123456789", min_size=6, max_size=12))
def test_every_refusal_has_its_words(pin: str) -> None:
    reason = weakness(pin)
    assert reason is None or reason in WEAK_PIN


def test_nine_of_ten_six_digit_pins_are_left() -> None:
    """A blocklist that takes too much makes guessing easier. Of all million 910,051 stay; here each 97th is asked."""
    some = range(0, 1_000_000, 97)
    assert 0.90 < sum(weakness(f"{n:06d}") is None for n in some) / len(some) < 0.92


# ---------------------------------------------------------------- how they are kept


def test_a_pin_is_kept_as_argon2id_with_19_mib_and_two_passes() -> None:
    """OWASP Password Storage Cheat Sheet: Argon2id, m = 19456 KiB, t = 2, p = 1 (ASVS 11.4.2)."""
    kept = extract_parameters(HASHER.make(PIN))
    assert (kept.type, kept.memory_cost, kept.time_cost, kept.parallelism) == (Type.ID, 19456, 2, 1)


def test_a_pin_fits_itself_only_and_two_keepings_differ() -> None:
    one, two = HASHER.make(PIN), HASHER.make(PIN)
    assert one != two
    assert HASHER.fits(one, PIN) and HASHER.fits(two, PIN)
    assert not HASHER.fits(one, WRONG)


def test_nobody_has_a_pin_that_fits() -> None:
    assert not HASHER.fits(None, "no PIN is this text")
    assert not HASHER.fits("not a hash", PIN)


class Counted(PasswordHasher):
    """Argon2 that notes how many of its hashes ran at once."""

    def __init__(self, real: PasswordHasher) -> None:
        self.real, self.lock, self.now, self.most = real, threading.Lock(), 0, 0

    def verify(self, hash: str | bytes, password: str | bytes) -> Literal[True]:
        with self.lock:
            self.now += 1
            self.most = max(self.most, self.now)
        try:
            return self.real.verify(hash, password)
        finally:
            with self.lock:
                self.now -= 1


def test_no_more_hashes_run_at_once_than_there_is_room_for() -> None:
    """A burst of sign-ins costs 19 MiB times the room, not times the burst."""
    hasher = PinHasher(at_once=2)
    kept = hasher.make(PIN)
    counted = hasher._argon2 = Counted(hasher._argon2)
    burst = [threading.Thread(target=hasher.fits, args=(kept, PIN)) for _ in range(12)]
    for one in burst:
        one.start()
    for one in burst:
        one.join()
    assert counted.most == 2


# ---------------------------------------------------------------- what wrong ones lead to


def test_waiting_doubles_from_one_second() -> None:
    assert [wait_after(n) for n in range(10)] == [0, 1, 2, 4, 8, 16, 32, 64, 128, 256]


@given(wrong=st.integers(0, 20), everywhere=st.integers(0, 200), early_ms=st.integers(-100_000, 300_000))
def test_a_try_goes_waits_or_stops(wrong: int, everywhere: int, early_ms: int) -> None:
    now = 1_764_050_400_000
    verdict = judge_try(wrong, now + early_ms, everywhere, now)
    if everywhere >= 100:
        assert verdict == Stopped(everywhere=True)
    elif wrong >= 10:
        assert verdict == Stopped(everywhere=False)
    elif early_ms > 0:
        assert isinstance(verdict, Wait) and 0 <= verdict.wait_s * 1000 - early_ms < 1000
    else:
        assert verdict == Go(wrong + 1)


def test_ten_wrong_pins_stop_one_name_at_one_tablet_only(world: World) -> None:
    """A joker at one tablet locks nobody out of the others (ASVS 6.3.1: no lock-out of people by strangers)."""
    lead = world.led()
    ila = world.person(lead, "Ila Venn", ["technician"], PIN)
    tobin = world.person(lead, "Tobin Sarr", ["technician"], "904127")
    joked, other = world.invited(lead), world.invited(lead, "Sink 3")
    waits = []
    for _ in range(9):
        answer = joked.sign_in(ila, WRONG)
        assert code_of(answer) == "wrong_pin"
        waits.append(int(answer.headers["retry-after"]))
        assert code_of(joked.sign_in(ila, PIN)) == "pin_waits"  # the right one waits too, and is not counted
        world.clock.go_on(seconds=waits[-1])
    assert waits == [1, 2, 4, 8, 16, 32, 64, 128, 256]
    assert code_of(joked.sign_in(ila, WRONG)) == "pin_stopped"
    world.clock.go_on(days=30)
    assert code_of(joked.sign_in(ila, PIN)) == "pin_stopped"
    assert other.sign_in(ila, PIN).status_code == 200
    assert code_of(joked.sign_in(ila, PIN)) == "pin_stopped"  # the sign-in elsewhere opens nothing here
    assert joked.sign_in(tobin, "904127").status_code == 200


def test_a_lead_opens_a_stopped_tablet_again(world: World) -> None:
    lead = world.led()
    ila = world.person(lead, "Ila Venn", ["technician"], PIN)
    tablet = world.invited(lead)
    for _ in range(10):
        tablet.sign_in(ila, WRONG)
        world.clock.go_on(seconds=256)
    lead.sign_in(world.lead_id, "618043")
    row = next(row for row in lead.get("/lead/people").json()["people"] if row["person"] == ila)
    assert row["stopped_at"] == [tablet.station]
    assert lead.post(f"/door/people/{ila}", {"tries": "open_again"}).status_code == 200
    assert tablet.sign_in(ila, PIN).status_code == 200


def test_a_right_pin_forgets_the_wrong_ones_before_it(world: World) -> None:
    lead = world.led()
    ila = world.person(lead, "Ila Venn", ["technician"], PIN)
    tablet = world.invited(lead)
    for _ in range(3):
        for wait in (1, 2, 4, 8):
            assert tablet.sign_in(ila, WRONG).headers["retry-after"] == str(wait)
            world.clock.go_on(seconds=wait)
        assert tablet.sign_in(ila, PIN).status_code == 200


def test_many_guesses_sent_at_once_are_one_try(world: World) -> None:
    """A try is counted before its PIN is looked at, so a volley gets one look and not twelve."""
    lead = world.led()
    ila = world.person(lead, "Ila Venn", ["technician"], PIN)
    tablet = world.invited(lead)
    codes: list[str] = []
    volley = [threading.Thread(target=lambda: codes.append(code_of(tablet.sign_in(ila, WRONG)))) for _ in range(12)]
    for guess in volley:
        guess.start()
    for guess in volley:
        guess.join()
    assert sorted(codes) == ["pin_waits"] * 11 + ["wrong_pin"]


def test_a_hundred_wrong_pins_over_all_tablets_stop_a_name_everywhere(world: World) -> None:
    """NIST SP 800-63B-4 section 3.2.2 (from memory): no more than 100 wrong tries in a row on one account."""
    from loupebook.door.tries import begin_try

    lead = world.led()
    ila = world.person(lead, "Ila Venn", ["technician"], PIN)
    now = world.door.now_ms()
    for station in range(10):
        for n in range(10):
            with world.log.writing() as write:
                assert begin_try(write, ila, f"s-{station}", now + n * 1_000_000) == Go(n + 1)
    assert code_of(lead.sign_in(ila, PIN)) == "pin_stopped_everywhere"
    lead.post(f"/door/people/{ila}", {"pin": "904127"})
    assert lead.sign_in(ila, "904127").status_code == 200


def test_a_name_nobody_has_is_refused_like_a_wrong_pin_and_leaves_no_row(world: World) -> None:
    lead = world.led()
    assert code_of(lead.sign_in("p-nobody", PIN)) == "wrong_pin"
    assert lead.get("/lead/people").json()["people"][0]["stopped_at"] == []
    with world.log.reading() as read:
        from sqlalchemy import text

        assert read.execute(text("SELECT COUNT(*) FROM pin_tries")).scalar_one() == 0


def test_a_station_that_tries_names_without_end_is_slowed(world: World) -> None:
    """ASVS 2.4.1."""
    lead = world.led()
    codes = [code_of(lead.sign_in(f"p-{n}", PIN)) for n in range(31)]
    assert codes == ["wrong_pin"] * 30 + ["slow_down"]
