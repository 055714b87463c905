"""The log, joined: what every other folder writes and reads through."""

from __future__ import annotations

import asyncio
import threading
import uuid
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import Connection, Engine, delete, func, insert, select

from loupebook.log.append import Appender
from loupebook.log.engine import reader
from loupebook.log.intake import Batch, Intake, Result
from loupebook.log.moments import Now, moment, utc_now
from loupebook.log.pins import Pins
from loupebook.log.port import Appended, Door, Epoch, Folds, Head, Statement, Value
from loupebook.log.server_chain import Body, Check, ServerChain
from loupebook.log.settle import Settler
from loupebook.log.statements import Row, Statements
from loupebook.log.states import CURRENT, States
from loupebook.log.tables import LOG, SERVER_KEY, chains, entries, facts, unsettled, verdicts
from loupebook.log.verdicts import Doorkeeper, Judge
from loupebook.log.writer import Act, Job, Transaction, Writer
from loupebook.record.hashes import chain_id
from loupebook.record.heads import base64url, kept_key, public_der
from loupebook.record.kinds import About, Proof

T = TypeVar("T")

UNSETTLED = (
    select(verdicts.c.position)
    .join(entries, CURRENT)
    .where(verdicts.c.verdict == "aside", func.coalesce(verdicts.c.settled, "count") != "leave_out")
)
"""What does not count and was not left out, as the verdicts have it."""
KEY_FILE = "server.key"
"""The server's own key, in the data folder, mode 0600."""
KEPT_OPEN = 4
"""Connections kept at hand for `Log.rows`."""


class Log:
    """Entries in, rows out. Every writing call returns after its commit is durable, or raises.

    engine  from `open_engine`; the features' tables must exist when the first entry counts
    folds   kind -> folds of all features, from `joined`
    door    who may write
    folder  the data folder: holds the server's key
    texts   catalogues, policies and frequencies that entries may pin from the start
    build   written into verdicts and the server's entries
    """

    def __init__(
        self,
        engine: Engine,
        folds: Folds,
        door: Door,
        folder: Path,
        *,
        texts: Iterable[str] = (),
        build: str = "unnamed",
        now: Now = utc_now,
    ) -> None:
        self._engine = engine
        self._reader = reader(engine)
        self._now = now
        self.folds = folds
        self.pins = Pins()
        LOG.create_all(engine)
        key = kept_key(folder / KEY_FILE)
        self._epoch = self._begin(texts, public_der(key))
        self._states = States()
        self._doorkeeper = Doorkeeper(door)
        judge = Judge(self._states, self.pins)
        appender = Appender(folds, self.pins, build)
        self.server = ServerChain(key, appender, Settler(self._states, judge, appender), build, now)
        self._intake = Intake(self._doorkeeper, judge, appender, self.epoch, now)
        self._told = Told(self._last_position())
        self._statements = Statements(engine.dialect)
        self._idle: list[Any] = []
        self._door_state = object()
        self._writer = Writer(engine, self._statements, self._committed)
        self._writer.on_abandon = self._undone

    # ---------------------------------------------------------------- writing

    def intake(self, chain: str, first: int, body: bytes, station: str) -> Result:
        """Takes a batch: lines, then the head. Blocks. Raises the refusals of `trouble`, having written nothing."""
        return self._writer.submit(self._batch(chain, first, body, station)).result()

    async def take(self, chain: str, first: int, body: bytes, station: str) -> Result:
        """The same without blocking the event loop."""
        return await asyncio.wrap_future(self._writer.submit(self._batch(chain, first, body, station)))

    def append_server(
        self,
        kind: str,
        about: About,
        body: Body,
        person: str,
        proof: Proof,
        check: Check | None = None,
    ) -> Appended:
        """One entry on the server's own chain, its folds and what `check` writes, in one transaction. Blocks.

        `check` runs first, inside it, then `body` where it is still to be found; what they raise undoes everything and
        reaches the caller.
        """

        def act(transaction: Transaction) -> Appended:
            return self.server.append(transaction, kind, about, body, person, proof, check)

        return self.submit(act).result()

    def write(self, act: Callable[[Transaction], T]) -> T:
        """Runs `act` in the writer's next transaction, with whoever else waits. Blocks."""
        return self.submit(act).result()

    def note(self, act: Callable[[Transaction], T]) -> T:
        """The same for what only adds rows, none of them the door's: it may be run again once undone. Blocks."""
        job: Job[T] = Act(act, repeatable=True)
        return self._writer.submit(job).result()

    def submit(self, act: Callable[[Transaction], T]) -> Future[T]:
        """The same, answered later."""

        def and_forget(transaction: Transaction) -> T:
            try:
                return act(transaction)
            finally:
                self._doorkeeper.forget()
                transaction.after_commit(self._door_changed)

        job: Job[T] = Act(and_forget, repeatable=False)
        return self._writer.submit(job)

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A write transaction of the caller's own thread, taken at once, between the writer's; never for entries."""
        try:
            with self._writer.alone() as connection:
                yield connection
        finally:
            self._door_changed()

    def keep_pin(self, connection: Connection, text: str) -> str:
        """Keeps the text of a catalogue, policy or frequency within a transaction; its hash. Raises NotAPin."""
        return self.pins.keep(connection, [text], moment(self._now()))[0]

    def close(self) -> None:
        """Ends after what was handed in is written."""
        self._writer.close()
        while self._idle:
            self._idle.pop().close()

    def _batch(self, chain: str, first: int, body: bytes, station: str) -> Batch:
        return Batch(self._intake, chain, first, body, station)

    # ---------------------------------------------------------------- reading

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection for reading what is committed: one stable snapshot."""
        with self._reader.connect() as connection:
            yield connection

    def rows(self, statement: Statement, **values: Value) -> list[Row]:
        """The committed rows of a select that was compiled before: for what every photo asks."""
        prepared = self._statements.prepared(statement)
        try:
            connection = self._idle.pop()
        except IndexError:
            connection = self._engine.raw_connection()
        try:
            found = connection.cursor().execute(prepared.sql, prepared.parameters(values)).fetchall()
        except BaseException:
            connection.invalidate()
            raise
        if len(self._idle) < KEPT_OPEN:
            self._idle.append(connection)
        else:
            connection.close()
        return found  # type: ignore[no-any-return]

    @property
    def door_state(self) -> object:
        """Another one after each commit that may have changed stations, people or sessions, before it is answered.

        What was read under one of them is still so while it is this one.
        """
        return self._door_state

    def epoch(self) -> Epoch:
        """Which life of this database it is."""
        return self._epoch

    def head(self, chain: str) -> Head:
        """How far the server is with a chain."""
        with self.reading() as connection:
            row = connection.execute(select(chains).where(chains.c.chain == chain)).one_or_none()
        return Head(row.seq, row.hash, row.received_at, row.build, row.backed_up_seq) if row else NOTHING_YET

    @property
    def position(self) -> int:
        """The last committed place in the log."""
        return self._told.position

    @property
    def commits(self) -> int:
        """How many transactions the writer has committed since the start."""
        return self._writer.commits

    @property
    def waiting(self) -> int:
        """Jobs that wait for the writer now."""
        return self._writer.waiting

    async def changed(self, after: int, timeout_s: float) -> int:
        """Waits until the log is beyond `after`, at most `timeout_s`; its position then."""
        return await self._told.beyond(after, timeout_s)

    # ---------------------------------------------------------------- inside

    def _begin(self, texts: Iterable[str], spki: bytes) -> Epoch:
        with self._engine.begin() as connection:
            kept: dict[str, str] = {name: value for name, value in connection.execute(select(facts))}  # noqa: C416
            if "epoch_n" not in kept:
                kept |= {"epoch_n": "1", "epoch_id": uuid.uuid4().hex}
                connection.execute(insert(facts), [{"name": name, "value": value} for name, value in kept.items()])
            name = SERVER_KEY + chain_id(spki)
            if name not in kept:
                connection.execute(insert(facts), {"name": name, "value": base64url(spki)})
            connection.execute(delete(unsettled))
            connection.execute(insert(unsettled).from_select(["position"], UNSETTLED))
            self.pins.load(connection)
            self.pins.keep(connection, texts, moment(self._now()))
        return Epoch(int(kept["epoch_n"]), kept["epoch_id"])

    def _last_position(self) -> int:
        with self.reading() as connection:
            return connection.execute(select(func.max(entries.c.position))).scalar_one() or 0

    def _committed(self, position: int | None) -> None:
        self._states.committed()
        if position is not None:
            self._told.tell(position)

    def _door_changed(self) -> None:
        self._door_state = object()

    def _undone(self) -> None:
        self._states.undone()
        self._doorkeeper.forget()


NOTHING_YET = Head(0, None, None, None, 0)


class Told:
    """Wakes event loops when the log moves on."""

    def __init__(self, position: int) -> None:
        self.position = position
        self._lock = threading.Lock()
        self._waiting: set[tuple[asyncio.AbstractEventLoop, asyncio.Event]] = set()

    def tell(self, position: int) -> None:
        """The log is at `position`; from the writer's thread."""
        with self._lock:
            self.position = max(self.position, position)
            waiting, self._waiting = self._waiting, set()
        for loop, event in waiting:
            if not loop.is_closed():
                loop.call_soon_threadsafe(event.set)

    async def beyond(self, after: int, timeout_s: float) -> int:
        """Waits for a position beyond `after`, at most `timeout_s`."""
        waiter = (asyncio.get_running_loop(), asyncio.Event())
        with self._lock:
            if self.position > after:
                return self.position
            self._waiting.add(waiter)
        try:
            async with asyncio.timeout(timeout_s):
                await waiter[1].wait()
        except TimeoutError:
            pass
        finally:
            with self._lock:
                self._waiting.discard(waiter)
        return self.position
