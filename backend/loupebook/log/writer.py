"""The one writer. Every waiting job goes into one transaction, which commits once for all who wait.

Promise: a job's answer is given only after the commit that holds its rows is durable. A job that raises is undone
by itself (a savepoint) and harms no other. Jobs that may be run again run under one savepoint together, so that the
rows of a table are written in one go; when one of them raises, all are undone and run again one by one. When the disk
fails at a commit, nobody is told "stored", and nothing is written any more: SQLite itself would carry on after one
failed sync (measured), and that would be a lie.
"""

from __future__ import annotations

import logging
import queue
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from typing import Any, Generic, Protocol, TypeVar

from sqlalchemy import Connection, Engine, func, select
from sqlalchemy.exc import DBAPIError

from loupebook.log.port import Change, Statement, Value
from loupebook.log.statements import Pending, Row, Statements, Values
from loupebook.log.tables import entries
from loupebook.log.trouble import Busy, Closed, DiskFull, LogRefusal, WritingStopped

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)

MOST_JOBS = 256
"""Jobs in one transaction: keeps the wait of the first below some 50 ms when many tablets return at once."""

_LAST_POSITION = Statement(select(func.max(entries.c.position)))
log = logging.getLogger("loupebook.log")


class Transaction:
    """What a job works with. Reading runs what waits first, so a job sees its own rows and those of jobs before it."""

    def __init__(self, connection: Connection, statements: Statements) -> None:
        self.connection = connection
        self.cursor: Any = connection.connection.cursor()
        self._statements = statements
        self._pending = Pending(statements, self.cursor)
        self._after: list[Callable[[], None]] = []
        self._position: int | None = None

    def add(self, statement: Statement, values: Values) -> None:
        """A row change; run at the latest when the job ends."""
        self._pending.add(statement, values)

    def extend(self, changes: Iterable[Change]) -> None:
        """More row changes, in order."""
        self._pending.extend(changes)

    def rows(self, statement: Statement, **values: Value) -> list[Row]:
        """The rows of a select."""
        prepared = self._statements.prepared(statement)
        self._pending.flush_for(prepared)
        self.cursor.execute(prepared.sql, prepared.parameters(values))
        return list(self.cursor.fetchall())

    def row(self, statement: Statement, **values: Value) -> Row | None:
        """The first row of a select, if any."""
        found = self.rows(statement, **values)
        return found[0] if found else None

    def next_position(self) -> int:
        """The next place in the log. Only this transaction gives places, so they appear in commit order."""
        if self._position is None:
            last = self.rows(_LAST_POSITION)[0][0]
            self._position = last or 0
        self._position += 1
        return self._position

    @property
    def last_position(self) -> int | None:
        """The last place given in this transaction, or None where none was."""
        return self._position

    def after_commit(self, act: Callable[[], None]) -> None:
        """To be done once what this job wrote is durable; forgotten when it is undone."""
        self._after.append(act)

    def flush(self) -> None:
        """Runs what waits, so that other users of the connection see it."""
        self._pending.flush()

    # -- the writer's own

    def mark(self) -> tuple[int, int | None]:
        return len(self._after), self._position

    def back_to(self, mark: tuple[int, int | None]) -> None:
        self._pending.drop()
        del self._after[mark[0] :]
        self._position = mark[1]

    def committed(self) -> None:
        for act in self._after:
            act()


class Job(Protocol[T_co]):
    """One piece of writing, run on the writer's thread.

    `repeatable`: after it was undone it may be run once more, because all it does is done through the transaction.
    """

    @property
    def repeatable(self) -> bool: ...
    def run(self, transaction: Transaction) -> T_co: ...


class Act(Generic[T]):
    """A job that is one function; it says itself whether it may be run again."""

    def __init__(self, act: Callable[[Transaction], T], repeatable: bool) -> None:
        self._act = act
        self.repeatable = repeatable

    def run(self, transaction: Transaction) -> T:
        return self._act(transaction)


class Writer:
    """The thread that writes. `on_commit` is told after each commit, on that thread."""

    def __init__(self, engine: Engine, statements: Statements, on_commit: Callable[[int | None], None]) -> None:
        self._engine = engine
        self._statements = statements
        self._on_commit = on_commit
        self._jobs: queue.SimpleQueue[tuple[Job[Any], Future[Any]] | None] = queue.SimpleQueue()
        self._lock = threading.Lock()
        self._stopped: LogRefusal | None = None
        self.commits = 0
        self.on_abandon: Callable[[], None] = lambda: None
        self._thread = threading.Thread(target=self._run, name="log-writer", daemon=True)
        self._thread.start()

    def submit(self, job: Job[T]) -> Future[T]:
        """The job's answer once it is durable, or what it raised. Raises WritingStopped, Closed at once."""
        if self._stopped is not None:
            raise self._stopped
        answer: Future[T] = Future()
        self._jobs.put((job, answer))
        return answer

    @property
    def waiting(self) -> int:
        """Jobs handed in and not yet begun."""
        return self._jobs.qsize()

    def close(self) -> None:
        """Ends after what was submitted is written; later submits are refused."""
        if self._stopped is None:
            self._stopped = Closed()
        self._jobs.put(None)
        self._thread.join()

    @contextmanager
    def alone(self) -> Iterator[Connection]:
        """A write transaction of the caller's thread, between the writer's own; commits at the end."""
        with self._lock:
            if self._stopped is not None:
                raise self._stopped
            try:
                with self._engine.begin() as connection:
                    yield connection
            except DBAPIError as failed:
                raise self._refusal(failed) or failed from failed
            finally:
                self.on_abandon()
        self._on_commit(None)

    # ---------------------------------------------------------------- the thread

    def _run(self) -> None:
        ending = False
        while not ending:
            group: list[tuple[Job[Any], Future[Any]]] = []
            item = self._jobs.get()
            while True:
                if item is None:
                    ending = True
                    break
                if item[1].set_running_or_notify_cancel():
                    group.append(item)
                if len(group) >= MOST_JOBS:
                    break
                try:
                    item = self._jobs.get_nowait()
                except queue.Empty:
                    break
            if group:
                self._write(group)

    def _write(self, group: list[tuple[Job[Any], Future[Any]]]) -> None:
        done: list[tuple[Future[Any], Any]] = []
        position: int | None = None
        try:
            with self._lock:
                if isinstance(self._stopped, WritingStopped):
                    raise self._stopped
                with self._engine.connect() as connection, connection.begin():
                    transaction = Transaction(connection, self._statements)
                    done = self._together(transaction, group)
                    if not done:
                        for job, answer in group:
                            self._one(transaction, job, answer, done)
                    position = transaction.last_position
                self.commits += 1
        except BaseException as failed:
            self.on_abandon()
            refusal = self._refusal(failed) or failed
            log.error("nothing of %d jobs was written: %r", len(group), failed)
            for _, answer in group:
                if not answer.done():
                    answer.set_exception(refusal)
            return
        transaction.committed()
        for answer, value in done:
            answer.set_result(value)
        self._on_commit(position)

    def _together(
        self, transaction: Transaction, ready: list[tuple[Job[Any], Future[Any]]]
    ) -> list[tuple[Future[Any], Any]]:
        """What all jobs answer, run under one savepoint; nothing, and all undone, where one of them refuses."""
        if len(ready) < 2 or not all(job.repeatable for job, _ in ready):
            return []
        try:
            return self._undoable(transaction, lambda: [(answer, job.run(transaction)) for job, answer in ready])
        except BaseException as refused:
            if self._is_fatal(refused):
                raise
            return []

    def _one(
        self, transaction: Transaction, job: Job[Any], answer: Future[Any], done: list[tuple[Future[Any], Any]]
    ) -> None:
        try:
            value = self._undoable(transaction, lambda: job.run(transaction))
        except BaseException as refused:
            if self._is_fatal(refused):
                raise
            answer.set_exception(refused)
            if not isinstance(refused, LogRefusal):
                log.info("a job was undone: %r", refused)
            return
        done.append((answer, value))

    def _undoable(self, transaction: Transaction, work: Callable[[], T]) -> T:
        """Runs `work` and what it adds. What it raises undoes it, unless the whole transaction is lost anyway."""
        mark = transaction.mark()
        transaction.cursor.execute("SAVEPOINT job")
        try:
            value = work()
            transaction.flush()
        except BaseException as refused:
            if not self._is_fatal(refused):
                transaction.back_to(mark)
                transaction.cursor.execute("ROLLBACK TO SAVEPOINT job")
                transaction.cursor.execute("RELEASE SAVEPOINT job")
                self.on_abandon()
            raise
        transaction.cursor.execute("RELEASE SAVEPOINT job")
        return value

    def _is_fatal(self, failed: BaseException) -> bool:
        """Whether the whole transaction is lost: the disk, not the job."""
        return self._refusal(failed) is not None

    def _refusal(self, failed: BaseException) -> LogRefusal | None:
        """What a failure of the database means for those who wait; a failed disk stops writing for good."""
        if isinstance(failed, WritingStopped):
            return failed
        original = failed.orig if isinstance(failed, DBAPIError) else failed
        code = getattr(original, "sqlite_errorcode", None)
        text = str(original)
        if (code is not None and code & 0xFF == 13) or "disk is full" in text or getattr(original, "errno", 0) == 28:
            return DiskFull()
        if (code is not None and code & 0xFF in (10, 11, 26, 14, 8)) or "disk I/O" in text or "malformed" in text:
            self._stopped = WritingStopped()
            return self._stopped
        if (code is not None and code & 0xFF in (5, 6)) or "database is locked" in text:
            return Busy()
        return None
