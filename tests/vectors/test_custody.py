"""Who has a scope: `shared/vectors/custody.json`, and a machine that hands over, branches and merges at random."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from loupebook.rules.custody import HOUSE, Custody, Event, Holder, custody_of, may_take

pytestmark = pytest.mark.repair

ROOT = Path(__file__).resolve().parents[2]
CASES = json.loads((ROOT / "shared/vectors/custody.json").read_text("utf-8"))["cases"]


def event_of(given: dict[str, Any]) -> Event:
    holder = Holder(*given["holder"]) if "holder" in given else HOUSE
    over = tuple(given.get("over", ()))
    offer = event_of(given["offer"]) if "offer" in given else None
    return Event(given["entry"], given["what"], given["on"], given["by"], given["at"], holder, over, offer)


def told(custody: Custody) -> dict[str, Any]:
    def pair(holder: Holder | None) -> list[str] | None:
        return [holder.kind, holder.name] if holder else None

    return {
        "state": custody.state,
        "holder": pair(custody.holder),
        "to": pair(custody.to),
        "since": custody.since_ms,
        "tips": list(custody.tips),
        "why": custody.why,
        "waiting": list(custody.waiting),
    }


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["description"])
def test_a_scope_is_where_its_events_put_it_in_any_order(case: dict[str, Any]) -> None:
    events = [event_of(each) for each in case["events"]]
    assert told(custody_of(events)) == case["expected"]
    for seed in range(6):
        mixed = random.Random(seed).sample([*events, *events], 2 * len(events))
        assert told(custody_of(mixed)) == case["expected"]


def test_each_case_names_its_source() -> None:
    assert [case["description"] for case in CASES if len(case["source"]) < 10] == []


PEOPLE = ("rin", "tam", "ila")
TABLETS = ("one", "two", "desk")
people, tablets = st.sampled_from(PEOPLE), st.sampled_from(TABLETS)
holders = st.sampled_from([*(Holder("person", each) for each in PEOPLE), Holder("outside", "Kestrel Post"), HOUSE])


class HandingOver(RuleBasedStateMachine):
    """Tablets that each know a part of what happened, write on what they know, and meet now and then.

    What must hold at every point, for what any of them knows and for all of it: exactly one holder, or an offer by one
    giver, or a dispute with its tips; and the same whatever the order of arrival.
    """

    def __init__(self) -> None:
        super().__init__()
        self.knows: dict[str, dict[str, Event]] = {tablet: {} for tablet in TABLETS}
        self.all: dict[str, Event] = {}
        self.clock = 0

    def write(self, tablet: str, what: Any, person: str, holder: Holder, over: tuple[str, ...] = ()) -> Event:
        self.clock += 1
        tips = custody_of(self.knows[tablet].values()).tips
        basis = "" if what == "settled" or not tips else tips[0]
        event = Event(
            f"{random.Random(self.clock).getrandbits(64):016x}", what, basis, person, self.clock, holder, over
        )
        self.knows[tablet][event.entry] = self.all[event.entry] = event
        return event

    @rule(tablet=tablets, person=people, to=holders)
    def offers(self, tablet: str, person: str, to: Holder) -> None:
        before = custody_of(self.knows[tablet].values())
        self.write(tablet, "offered", person, to)
        after = custody_of(self.knows[tablet].values())
        theirs = before.holder is not None and before.holder in (HOUSE, Holder("person", person))
        assert after.state == ("offered" if theirs else "disputed")

    @rule(tablet=tablets, person=people)
    def takes(self, tablet: str, person: str) -> None:
        before = custody_of(self.knows[tablet].values())
        outside = before.to is not None and before.to.kind == "outside"
        holder = before.to if outside and before.to else Holder("person", person)
        self.write(tablet, "accepted", person, holder)
        after = custody_of(self.knows[tablet].values())
        if before.state == "offered" and (outside or may_take(before, person)):
            assert (after.state, after.holder) == ("held", holder)
        elif before.state != "offered" or before.holder == Holder("person", person):
            assert after.state == "disputed"

    @rule(giver=tablets, taker=tablets, person=people, takes=st.booleans())
    def reads_it_off_the_screen(self, giver: str, taker: str, person: str, takes: bool) -> None:
        """The giver's screen shows its offer; the taker's tablet reads it and answers, whatever it knew before."""
        custody = custody_of(self.knows[giver].values())
        shown = next((self.knows[giver][tip] for tip in custody.tips if self.knows[giver][tip].what == "offered"), None)
        if custody.state != "offered" or shown is None or not may_take(custody, person):
            return
        self.clock += 1
        holder = Holder("person", person) if takes else HOUSE
        what = "accepted" if takes else "declined"
        entry = f"{random.Random(self.clock).getrandbits(64):016x}"
        answer = Event(entry, what, shown.entry, person, self.clock, holder, (), replace(shown, offer=None))
        knew = dict(self.knows[taker])
        self.knows[taker][entry] = self.all[entry] = answer
        # With the giver's words at hand it is as if it had been answered there, and the offer's own entry adds nothing.
        told = custody_of([*self.knows[giver].values(), answer])
        assert (told.state, told.holder) == ("held", holder if takes else custody.holder)
        without = [event for event in self.knows[giver].values() if event.entry != shown.entry]
        if all(event.basis != shown.entry for event in without):
            assert custody_of([*without, answer]) == told
        # Where its basis is not known, it says nothing yet and hides nothing.
        if shown.basis and shown.basis not in knew and shown.entry not in knew:
            after = custody_of(self.knows[taker].values())
            assert entry in after.waiting
            assert replace(after, waiting=()) == replace(custody_of(knew.values()), waiting=())

    @rule(tablet=tablets, person=people)
    def declines(self, tablet: str, person: str) -> None:
        before = custody_of(self.knows[tablet].values())
        self.write(tablet, "declined", person, HOUSE)
        if before.state == "offered":
            after = custody_of(self.knows[tablet].values())
            assert (after.state, after.holder) == ("held", before.holder)

    @rule(tablet=tablets, person=people)
    def scans_twice(self, tablet: str, person: str) -> None:
        """The same person takes the same offer on two tablets that have not met: that is no dispute."""
        before = custody_of(self.knows[tablet].values())
        if before.state != "offered" or not may_take(before, person):
            return
        first = self.write(tablet, "accepted", person, Holder("person", person))
        self.clock += 1
        again = Event(f"{self.clock:016x}", "accepted", first.basis, person, self.clock, first.holder)
        both = [*self.knows[tablet].values(), again]
        assert custody_of(both).state == "held"
        after = Event("f" * 16, "offered", again.entry, person, self.clock + 1, HOUSE)
        assert custody_of([*both, after]).state == "offered"

    @rule(tablet=tablets, person=people)
    def comes_back(self, tablet: str, person: str) -> None:
        before = custody_of(self.knows[tablet].values())
        self.write(tablet, "returned", person, Holder("person", person))
        if before.holder is not None and before.holder.kind == "outside":
            assert custody_of(self.knows[tablet].values()).holder == Holder("person", person)

    @precondition(lambda self: any(self.knows.values()))
    @rule(tablet=tablets)
    def takes_back(self, tablet: str) -> None:
        """Undoes the newest that this tablet knows, as the way back from a wrong scan."""
        custody = custody_of(self.knows[tablet].values())
        newest = [self.knows[tablet][tip] for tip in custody.tips]
        if len(newest) != 1 or newest[0].what in ("settled", "taken_back"):
            return
        without = custody_of(e for e in self.knows[tablet].values() if e.entry != newest[0].entry)
        self.write(tablet, "taken_back", newest[0].person, HOUSE)
        after = custody_of(self.knows[tablet].values())
        assert (after.state, after.holder, after.to) == (without.state, without.holder, without.to)

    @rule(one=tablets, other=tablets)
    def meet(self, one: str, other: str) -> None:
        both = self.knows[one] | self.knows[other]
        self.knows[one], self.knows[other] = dict(both), dict(both)

    @rule(who=people)
    def lead_settles(self, who: str) -> None:
        """The desk knows everything that has arrived and says who has it; nobody is told before by silence."""
        self.knows["desk"] = dict(self.all)
        custody = custody_of(self.all.values())
        if custody.state != "disputed":
            return
        self.write("desk", "settled", "lea", Holder("person", who), custody.tips)
        after = custody_of(self.all.values())
        assert (after.state, after.holder) == ("held", Holder("person", who))

    @invariant()
    def one_holder_or_offered_or_disputed(self) -> None:
        for known in [*self.knows.values(), self.all]:
            custody = custody_of(known.values())
            assert {
                "held": custody.holder is not None and custody.to is None and custody.why is None,
                "offered": custody.holder is not None and custody.holder.kind == "person" and custody.to is not None,
                "disputed": custody.holder is None and custody.why is not None and len(custody.tips) > 0,
            }[custody.state]
            assert (custody.tips == ()) == (known == {} or len(custody.waiting) == len(known))
            backwards = dict(reversed(known.items()))
            assert custody_of(backwards.values()) == custody

    @invariant()
    def two_that_exclude_each_other_are_never_silently_won(self) -> None:
        """Of all that is written, what nothing builds on says the same, or it is disputed."""
        custody = custody_of(self.all.values())
        built_on = {e.basis for e in self.all.values()} | {o for e in self.all.values() for o in e.over}
        says = {
            (e.what, e.holder, e.person) for e in self.all.values() if e.entry not in built_on and e.what == "accepted"
        }
        if len(says) > 1:
            assert custody.state == "disputed"


HandingOver.TestCase.settings = settings(max_examples=60, stateful_step_count=30, deadline=None)
TestHandingOver = HandingOver.TestCase
