"""SQL compiled once and run on the driver's cursor, rows of one statement together.

SQLAlchemy builds a statement anew at every call (some 50 us); the writer has about 30 us for an entry with all its
rows. So each `Statement` is compiled at its first use, and changes wait in a `Pending` until something is read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from operator import itemgetter
from typing import Any, NamedTuple, cast

from sqlalchemy import ClauseElement, Column, Table
from sqlalchemy.engine.interfaces import Dialect
from sqlalchemy.sql import visitors
from sqlalchemy.sql.compiler import SQLCompiler

from loupebook.log.port import Change, Statement, Value

Values = Mapping[str, Value]
Row = tuple[Any, ...]


class Prepared(NamedTuple):
    """A compiled statement: its text, how values become its parameters, every table it touches, and the one (None:
    several)."""

    sql: str
    parameters: Callable[[Values], Sequence[Value] | Mapping[str, Value]]
    tables: frozenset[str]
    table: str | None


class Statements:
    """Compiled statements of one dialect."""

    def __init__(self, dialect: Dialect) -> None:
        self._dialect = dialect
        self._prepared: dict[Statement, Prepared] = {}

    def prepared(self, statement: Statement) -> Prepared:
        """The compiled statement; compiled at first use."""
        try:
            return self._prepared[statement]
        except KeyError:
            return self._prepared.setdefault(statement, self._compile(statement))

    def _compile(self, statement: Statement) -> Prepared:
        clause = cast(ClauseElement, statement.clause)
        compiled = clause.compile(dialect=self._dialect, for_executemany=True)
        assert isinstance(compiled, SQLCompiler)
        fixed = {name: bind.value for name, bind in compiled.binds.items() if not bind.required}
        for column in compiled.insert_prefetch:
            fixed[str(column.key)] = _scalar(column)
        given = [name for name in compiled.binds if name not in fixed]
        names = compiled.positiontup if compiled.positional else None
        parameters = _by_place(names, fixed) if names is not None else _by_name(given, fixed)
        tables = _tables(clause)
        return Prepared(str(compiled), parameters, tables, next(iter(tables)) if len(tables) == 1 else None)


def _scalar(column: Column[Any]) -> Any:
    """The plain value a column starts with; the writer runs no functions for defaults."""
    default = column.default
    if default is None or not default.is_scalar:
        raise TypeError(f"{column}: give its value in the statement; the writer runs no default functions")
    return default.arg  # type: ignore[attr-defined]


def _by_place(names: Sequence[str], fixed: Mapping[str, Any]) -> Callable[[Values], Sequence[Value]]:
    if fixed:
        return lambda values: [values[name] if name in values else fixed[name] for name in names]
    if len(names) > 1:
        return cast(Callable[[Values], Sequence[Value]], itemgetter(*names))
    return lambda values: [values[name] for name in names]


def _by_name(given: Sequence[str], fixed: Mapping[str, Any]) -> Callable[[Values], Mapping[str, Value]]:
    return lambda values: {**fixed, **{name: values[name] for name in given}}


def _tables(clause: ClauseElement) -> frozenset[str]:
    tables = {each.name for each in visitors.iterate(clause) if isinstance(each, Table)}
    target = getattr(clause, "table", None)
    if isinstance(target, Table):
        tables.add(target.name)
    return frozenset(tables)


class Pending:
    """Changes not yet run. Order is kept within a table; changes of different tables do not wait for each other."""

    def __init__(self, statements: Statements, cursor: Any) -> None:
        self._statements = statements
        self._cursor = cursor
        self._runs: dict[str, list[tuple[Prepared, list[Any]]]] = {}

    def add(self, statement: Statement, values: Values) -> None:
        """One more change, to be run at the next flush at the latest."""
        sql, parameters, _, table = prepared = self._statements.prepared(statement)
        if table is None:
            self.flush()
            self._cursor.execute(sql, parameters(values))
            return
        runs = self._runs.get(table)
        if runs is None:
            self._runs[table] = [(prepared, [parameters(values)])]
        elif runs[-1][0] is prepared:
            runs[-1][1].append(parameters(values))
        else:
            runs.append((prepared, [parameters(values)]))

    def extend(self, changes: Iterable[Change]) -> None:
        """More changes, in order."""
        for statement, values in changes:
            self.add(statement, values)

    def flush(self) -> None:
        """Runs what waits. Whatever the driver raises reaches the caller; nothing is left waiting."""
        waiting, self._runs = self._runs, {}
        for runs in waiting.values():
            self._run(runs)

    def flush_for(self, prepared: Prepared) -> None:
        """Runs what waits on the tables of a statement that reads; the rest goes on waiting. Plain text names none."""
        if not prepared.tables:
            self.flush()
        for table in prepared.tables:
            self._run(self._runs.pop(table, ()))

    def _run(self, runs: Iterable[tuple[Prepared, list[Any]]]) -> None:
        for prepared, rows in runs:
            if len(rows) == 1:
                self._cursor.execute(prepared.sql, rows[0])
            else:
                self._cursor.executemany(prepared.sql, rows)

    def drop(self) -> None:
        """Forgets what waits."""
        self._runs = {}
