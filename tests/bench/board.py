"""Where every scope is, for 5,000 scopes: the page of the desk against the bare reads of the rows it shows (P), after
one scope was touched, and how its cost grows from 500 scopes.

    python tests/bench/board.py [--rounds N] [--scopes N]

The record is folded on a SQLite in memory: what is timed is reading, not the disk. Each scope was received, processed
and hung, every tenth was handed over. No lag: 100 ms, below which an answer is felt as at once (Miller 1968; Card,
Robertson and Mackinlay 1991; both from memory). The other goals are the product's own.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path[:0] = [str(ROOT / "backend"), str(ROOT / "tests"), str(HERE)]

from _measure import Goal, Run  # noqa: E402
from loupebook.reading.board import MOST, Board, whereabouts  # noqa: E402
from sqlalchemy import text  # noqa: E402
from story import Tables, Writer, lead_sources  # noqa: E402

AT_ONCE_MS = 100
FEW = 500
RUNS = 9
TIMES = 20
"""Bare reads timed together: one is below what the clock tells well."""
BARE = (
    text("SELECT scope, changed FROM scope_touched"),
    text(f"SELECT * FROM scope_records ORDER BY scope LIMIT {MOST}"),
)


def laid(scopes: int) -> tuple[Tables, Writer]:
    """So many scopes, and the writer that goes on."""
    writer, tables = Writer("Sink 1"), Tables()
    for number in range(scopes):
        writer.scope = f"udi:51022222233336/{number:07d}"
        described = {"scope_kind": "colonoscope", "serial": f"{number:07d}", "tag": f"T-{number}", "codes": []}
        writer.write("scope.described", described)
        for step in ("received", "processed", "hung"):
            writer.write(f"scope.{step}", {"place": "Cabinet 2"})
        if number % 10 == 0:
            offered = writer.write("custody.offered", {"place": "Cabinet 2"})
            taken = {"place": "Cabinet 2", "holder": {"kind": "person", "name": writer.person}}
            writer.write("custody.accepted", taken, basis=offered)
    tables.take(writer.lines)
    writer.lines.clear()
    return tables, writer


def median_ms(act: Callable[[], object], before: Callable[[], object] = lambda: None, runs: int = RUNS) -> float:
    """Milliseconds of one `act`; what comes before it is not timed."""
    took = []
    for _ in range(runs):
        before()
        begun = time.perf_counter()
        act()
        took.append((time.perf_counter() - begun) * 1000)
    return statistics.median(took)


class Page:
    """The page of one house, and the bare reads of the same rows."""

    def __init__(self, scopes: int) -> None:
        self.tables, self.writer = laid(scopes)
        self.sources, self.board = lead_sources(self.tables), Board()
        self.count = scopes

    def touch(self) -> None:
        """A step of one scope."""
        done = len(self.writer.lines)
        self.writer.scope = f"udi:51022222233336/{self.count // 2:07d}"
        self.writer.write("scope.taken", {"place": "Room 1"})
        self.tables.take(self.writer.lines[done:])

    def read(self, board: Board | None = None) -> None:
        with self.tables.reading() as connection:
            found = whereabouts(connection, self.sources, board=board or self.board)
        rows = found["rows"]
        assert isinstance(rows, list) and len(rows) == min(MOST, self.count)

    def bare(self) -> None:
        with self.tables.reading() as connection:
            for _ in range(TIMES):
                for statement in BARE:
                    connection.execute(statement).fetchall()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--scopes", type=int, default=5000)
    given = parser.parse_args()
    with Run("board") as run:
        many, few = Page(given.scopes), Page(FEW)
        house = f"board of {given.scopes} scopes"
        first = run.rounds("board-first", f"{house}, first read of a life", Goal("<=", 10 * AT_ONCE_MS), " ms")
        again = run.rounds("board-again", f"{house}, one touched since", Goal("<=", AT_ONCE_MS), " ms")
        bare = run.rounds("board-bare", "the same against the bare reads of its rows", Goal("<=", 20.0))
        grows = run.rounds("board-grows", f"the same against {FEW} scopes", Goal("<=", given.scopes / FEW))
        for _ in range(given.rounds):
            cold_ms = median_ms(lambda: many.read(Board()), runs=3)
            many.read()
            few.read()
            many_ms, few_ms = median_ms(many.read, many.touch), median_ms(few.read, few.touch)
            bare_ms = median_ms(many.bare) / TIMES
            first.round(cold_ms)
            again.round(many_ms)
            bare.round(many_ms / bare_ms, bare_ms, bare_ms=round(bare_ms, 3))
            grows.round(many_ms / few_ms, few_ms, few_ms=round(few_ms, 2))
    return 0


if __name__ == "__main__":
    sys.exit(main())
