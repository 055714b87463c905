"""How far second readers agree with the first ones: of what chance drew, never of what a lead picked.

A lead asks where they are in doubt, and then only of findings: such pairs say nothing of how far two people agree on
all that is looked at. They are counted beside, and are in no number.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any, get_args

import msgspec
from sqlalchemy import Connection, bindparam, text

from loupebook.log.asking import ask
from loupebook.reading.port import Sources
from loupebook.reading.shown import person_shown, scope_shown
from loupebook.record.kinds import FirstSaid, Grade
from loupebook.rules.agreement import LEAST, agreement, tabled
from loupebook.scopes.tables.asked import Answer, Asked, answers_of, second_opinions
from loupebook.scopes.tables.known import scopes_known

MOST = 2000
"""Second opinions that are read, the newest: years of a facility that draws some a week."""
SHOWN = 40
"""Pairs that differ and are listed, the newest."""
GRADES = tuple(each for each in get_args(Grade) if each != "present")
"""A finding that has no grades is `present`: two who name it can not differ in that."""
OF = text(
    "SELECT a.version, a.person, (SELECT p.root FROM inspection_parts p WHERE p.begun = a.begun LIMIT 1) FROM acts a "
    "WHERE a.version IN :of"
).bindparams(bindparam("of", expanding=True))


@dataclass(frozen=True)
class Pair:
    """What two people said of the same photos. `first` is empty where the first found nothing."""

    asked: Asked
    first: Sequence[FirstSaid]
    first_person: str
    root: str | None
    second: Answer

    @property
    def seen(self) -> tuple[bool, bool]:
        """Whether each of the two saw a finding."""
        return bool(self.first), self.second.finding is not None

    @property
    def grades(self) -> tuple[str, str] | None:
        """The grades of the finding that both named, where it has grades; the first named may be several."""
        same = next((each.grade for each in self.first if each.finding == self.second.finding), None)
        both = (str(same), str(self.second.grade))
        return both if set(both) <= set(GRADES) else None

    @property
    def same(self) -> bool:
        """Whether they agree in all that was asked: the finding, or that there is none, and its grade."""
        if not self.first or self.second.finding is None:
            return self.seen[0] == self.seen[1]
        return any((each.finding, each.grade) == (self.second.finding, self.second.grade) for each in self.first)


def agreement_page(connection: Connection, sources: Sources) -> dict[str, object]:
    """The whole answer of `GET /lead/agreement`."""
    every = second_opinions(connection, MOST)
    drawn = [each for each in every if each.drawn is not None]
    answers = answers_of(connection, [each.entry for each in every])
    pairs = list(_pairs(connection, drawn, answers))
    graded = [pair.grades for pair in pairs if pair.grades is not None]
    differ = [pair for pair in pairs if not pair.same][:SHOWN]
    scopes = scopes_known(connection, [pair.asked.scope for pair in differ])
    return {
        "position": sources.position(connection),
        "least": LEAST,
        "drawn": len(drawn),
        "open": sum(each.open for each in drawn),
        "by_lead": sum(each.drawn is None and _seen(answers[each.entry]) is not None for each in every),
        "seen": _told(pairs),
        "both": sum(all(pair.seen) for pair in pairs),
        "other_finding": sum(all(pair.seen) and not _named(pair) for pair in pairs),
        "grades": {"words": GRADES} | _table([*graded], GRADES),
        "people_pairs": _by_people(pairs),
        "differ": [
            {
                "asked": pair.asked.entry, "at": pair.second.at, "scope": scope_shown(scopes[pair.asked.scope]),
                "part": pair.asked.parts[0], "root": pair.root, "first_person": pair.first_person,
                "first": [{"finding": each.finding, "grade": each.grade} for each in pair.first],
                "second_person": pair.second.person,
                "second": {"finding": pair.second.finding, "grade": pair.second.grade, "words": pair.second.words},
            }
            for pair in differ
        ],
        "people": [person_shown(person) for person in sources.people(connection)],
    }  # fmt: skip


def _pairs(connection: Connection, drawn: Sequence[Asked], answers: dict[str, list[Answer]]) -> Iterable[Pair]:
    of = {row[0]: (row[1], row[2]) for row in ask(connection, OF, {"of": [each.of for each in drawn]})}
    for each in drawn:
        second = _seen(answers[each.entry])
        if second is not None and each.of in of:
            first = msgspec.json.decode(each.first or "[]", type=list[FirstSaid])
            yield Pair(each, first, *of[each.of], second)


def _seen(answers: Sequence[Answer]) -> Answer | None:
    """The first that counts, where several gave one before they heard of each other."""
    return next((each for each in answers if each.counts and each.did == "seen"), None)


def _named(pair: Pair) -> bool:
    return any(each.finding == pair.second.finding for each in pair.first)


def _told(pairs: Sequence[Pair]) -> dict[str, Any]:
    """Finding or none: the first cell is that both saw one."""
    return _table([pair.seen for pair in pairs], (True, False))


def _table(said: Sequence[tuple[Any, Any]], words: Sequence[Any]) -> dict[str, Any]:
    table = tabled(said, words)
    return {"table": table} | asdict(agreement(table))


def _by_people(pairs: Sequence[Pair]) -> list[dict[str, Any]]:
    """Finding or none of every two people, those with the most pairs first."""
    of: dict[tuple[str, str], list[Pair]] = {}
    for pair in pairs:
        of.setdefault((pair.first_person, pair.second.person), []).append(pair)
    rows = [{"first": who[0], "second": who[1]} | _told(theirs) for who, theirs in of.items()]
    return sorted(rows, key=lambda row: (-row["n"], row["first"], row["second"]))
