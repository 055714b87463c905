"""The server asks for second opinions by chance, where the policy has a share of inspections read twice.

What is drawn follows from the record alone (`rules/second.py`): the policy an inspection began with has the share, the
hash of its end draws it. What is asked about is settled once all photos of its parts are here or hidden, and written
once; from then on it is work asked of people like any other. What nobody answers in two weeks is asked for no more.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, cast

from sqlalchemy import Connection, bindparam, text

from loupebook.inspections.tables.hidden import hidden_now
from loupebook.inspections.tables.stands import STANDS
from loupebook.log.log import Log
from loupebook.record.kinds import About, FirstSaid, Grade, Proof, WorkAsked, WorkDropped
from loupebook.rules.second import is_drawn, turn_of
from loupebook.scopes.tables.asked import asked_one, drawn_before

log = logging.getLogger(__name__)

SERVER: Final = "server"
PROOF: Final = Proof(how="named", where="online")
REASON: Final = "Drawn by chance: a share of the inspections is read twice."
NOT_IN_TIME: Final = "Nobody gave it within 14 days."
WAIT_MS: Final = 14 * 24 * 60 * 60 * 1000
"""How long one that was drawn is asked for (product rule, no source)."""
MOST_WRITERS, MOST_PHOTOS, MOST_FINDINGS = 20, 40, 60
"""As many as the entry takes."""

_ENDS = (
    "SELECT a.entry, e.begun, p.scope, p.policy, p.catalogue FROM acts a "
    "JOIN endings e ON e.begun = a.begun AND e.version = a.version "
    "JOIN inspection_parts p ON p.begun = e.begun JOIN acts b ON b.version = p.version "
    f"WHERE e.ended = 'concluded' AND {STANDS} AND b.replaced_by IS NULL AND b.withdrawn_by IS NULL AND p.practice = 0 "
    "AND NOT EXISTS (SELECT 1 FROM endings x JOIN acts y ON y.version = x.version JOIN work_asked w "
    "ON w.drawn = y.entry AND w.what = 'second_opinion' WHERE x.begun = e.begun) "
)
SINCE = text(f"{_ENDS}AND a.changed > :since")
"""Ends that began to count after a position, of inspection parts that nothing was asked about by chance."""
OF_POLICIES = text(f"{_ENDS}AND p.policy IN :policies").bindparams(bindparam("policies", expanding=True))
ONE = text(f"{_ENDS}AND (a.version = :entry OR (a.entry = :entry AND a.entry <> a.version))")
POLICIES = text("SELECT DISTINCT policy FROM inspection_parts")
FINDINGS = text(
    "SELECT d.part, a.entry, d.finding, d.grade FROM findings d JOIN acts a ON a.version = d.version "
    f"WHERE d.begun = :begun AND {STANDS} ORDER BY a.seq"
)
MARKS = text(
    "SELECT d.part, a.entry, d.mark FROM part_marks d JOIN acts a ON a.version = d.version "
    f"WHERE d.begun = :begun AND {STANDS} ORDER BY a.seq"
)
PHOTOS = text(
    "SELECT p.sha256, p.part, p.of_finding, a.entry, l.state FROM photos_of p JOIN acts a ON a.version = p.version "
    "LEFT JOIN photo_looks l ON l.photo = p.sha256 WHERE p.begun = :begun AND p.shows <> 'serial' "
    f"AND a.withdrawn_by IS NULL AND NOT {hidden_now('p.sha256')} ORDER BY p.when_ms, p.sha256"
)
_WROTE = "SELECT a.person FROM {} d JOIN acts a ON a.version = d.version WHERE d.begun = :begun"
WRITERS = text(
    " UNION ".join(
        _WROTE.format(table) for table in ("inspection_parts", "endings", "part_marks", "findings", "photos_of")
    )
)
"""Everybody who wrote of an inspection part, also what stands no more: whoever knows it is no second reader."""

Pin = Callable[[str], Mapping[str, Any] | None]
PolicyNow = Callable[[Connection], Mapping[str, Any] | None]


@dataclass(frozen=True)
class End:
    """The end of an inspection part, and what it began with."""

    entry: str
    begun: str
    scope: str
    policy: str
    catalogue: str


@dataclass
class _Part:
    """What stands of one part of an inspection, and its photos that may be shown."""

    findings: list[tuple[str, str, str]] = field(default_factory=list)
    """Entry, finding, grade."""
    marks: list[tuple[str, str]] = field(default_factory=list)
    """Entry, mark."""
    photos: list[str] = field(default_factory=list)


class _NotNow(Exception):
    """Its photos are not all here, or second opinions are off just now."""


class _Never(Exception):
    """There is nothing to ask about, or it was asked or taken back meanwhile."""


class SecondOpinions:
    """Draws, asks, and asks no more. Each may be called by any thread; all of them block."""

    def __init__(self, log: Log, policy_now: PolicyNow, now_ms: Callable[[], int]) -> None:
        self._log = log
        self._policy_now = policy_now
        self._now_ms = now_ms
        self._lock = threading.Lock()
        self._waiting: dict[str, End] = {}
        """Drawn, and not all photos are here; found again by `catch_up`."""

    def catch_up(self) -> None:
        """At start: all ends in the record that were drawn and not asked about, and what nobody answered in time."""
        with self._log.reading() as connection:
            drawing = [each for each in connection.execute(POLICIES).scalars() if self._share(each) > 0]
            rows = connection.execute(OF_POLICIES, {"policies": drawing}).all() if drawing else []
        self._ask(End(*row) for row in rows)

    def counted(self, since: int) -> None:
        """Entries began to count after a position: ends among them, or a photo hidden for which one waited."""
        with self._log.reading() as connection:
            rows = connection.execute(SINCE, {"since": since}).all()
        self._ask(End(*row) for row in rows)

    def looked(self) -> None:
        """A photo was looked at; it may be the one for which an inspection waited."""
        if self._waiting:
            self._ask(())

    def _share(self, policy: str) -> int:
        """Of a hundred inspections that began with this policy, how many are drawn."""
        pinned: Mapping[str, Any] = self._log.pins(policy) or {}
        second = pinned.get("second_opinion", {})
        return int(second.get("share_percent", 0)) if second.get("on") else 0

    def _ask(self, ends: Iterable[End]) -> None:
        with self._lock:
            drawn = [each for each in ends if is_drawn(each.entry, self._share(each.policy))]
            self._waiting |= {each.entry: each for each in drawn}
            for end in list(self._waiting.values()):
                self._ask_one(end)
            self._drop_overdue()

    def _ask_one(self, end: End) -> None:
        try:
            with self._log.reading() as connection:
                self._wish(connection, end)  # so that nothing is locked for one that only waits
            about, body = About(scope=end.scope), lambda connection: self._wish(connection, end)
            self._log.append_server("work.asked", about, body, SERVER, PROOF, None)
        except _NotNow:
            return
        except _Never:
            log.info("of inspection part %s nothing can be asked by chance", end.begun)
        del self._waiting[end.entry]

    def _drop_overdue(self) -> None:
        with self._log.reading() as connection:
            overdue = drawn_before(connection, self._now_ms() - WAIT_MS)
        for each in overdue:

            def check(connection: Connection, asked: str = each.entry) -> None:
                now = asked_one(connection, asked)
                if now is None or not now.open:
                    raise _Never

            try:
                dropped = WorkDropped(each.entry, NOT_IN_TIME)
                self._log.append_server("work.dropped", About(scope=each.scope), dropped, SERVER, PROOF, check)
            except _Never:
                continue

    def _wish(self, connection: Connection, end: End) -> WorkAsked:
        """What is asked about an end that was drawn. Raises `_NotNow` or `_Never`."""
        if connection.execute(ONE, {"entry": end.entry}).first() is None:
            raise _Never
        if not (self._policy_now(connection) or {}).get("second_opinion", {}).get("on"):
            raise _NotNow
        parts = _parts(connection, end.begun)
        catalogue: Mapping[str, Any] = self._log.pins(end.catalogue) or {}
        with_finding = [id for id, part in parts.items() if _shows_a_finding(part, catalogue.get("findings", {}))]
        clean = [id for id, part in parts.items() if part.photos and _nothing_found(part)]
        asked = min(with_finding or clean, key=lambda id: turn_of(end.entry, id), default=None)
        writers = sorted(connection.execute(WRITERS, {"begun": end.begun}).scalars())
        if asked is None or len(writers) > MOST_WRITERS:
            raise _Never
        part = parts[asked]
        return WorkAsked(
            what="second_opinion",
            of=part.findings[0][0] if part.findings else part.marks[0][0],
            reason=REASON,
            parts=[asked],
            photos=part.photos[:MOST_PHOTOS],
            not_by=writers,
            first=[FirstSaid(finding, cast(Grade, grade)) for _, finding, grade in part.findings[:MOST_FINDINGS]],
            drawn=end.entry,
        )


def _parts(connection: Connection, begun: str) -> dict[str, _Part]:
    """Every part that anything was said of, with its photos. Raises `_NotNow` where one was not looked at yet."""
    of = {"begun": begun}
    parts: dict[str, _Part] = {}
    of_entry: dict[str, str] = {}
    for part, entry, finding, grade in connection.execute(FINDINGS, of):
        parts.setdefault(part, _Part()).findings.append((entry, finding, grade))
        of_entry[entry] = part
    for part, entry, mark in connection.execute(MARKS, of):
        parts.setdefault(part, _Part()).marks.append((entry, mark))
    for sha256, own, finding, entry, state in connection.execute(PHOTOS, of):
        part = of_entry.get(entry) or (of_entry.get(finding) if finding else own)
        if part not in parts or sha256 in parts[part].photos:
            continue
        if state is None:
            raise _NotNow
        if state == "shown":
            parts[part].photos.append(sha256)
    return parts


def _shows_a_finding(part: _Part, catalogue: Mapping[str, Any]) -> bool:
    """What a label or a form says is nothing that a photo of a part shows."""
    classes = {catalogue.get(finding, {}).get("class") for _, finding, _ in part.findings}
    return bool(part.photos and part.findings) and "documentation" not in classes


def _nothing_found(part: _Part) -> bool:
    return not part.findings and {mark for _, mark in part.marks} == {"nothing_found"}
