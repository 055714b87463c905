"""Fixed questions, asked of SQLite's driver as they are written.

What a lead reads takes some forty statements a page. SQLAlchemy spends about 60 us on each beside what SQLite itself
needs (measured: 70 us against 9 for ten rows), which was half of a page. A statement whose text never changes needs
none of that: names stay names, which the driver binds, and a list becomes as many names as it has values.
Whoever listens on the engine for statements hears these too.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache, lru_cache
from typing import Any

from sqlalchemy import Connection, TextClause

Given = Mapping[str, Any]
Row = tuple[Any, ...]

NONE_OF_THEM = "(SELECT 1 WHERE 0)"
"""A list of no value: nothing is IN it and all is NOT IN it."""


def ask(connection: Connection, statement: TextClause, given: Given | None = None) -> list[Row]:
    """All rows of a text statement, each a plain tuple.

    `given`: the values of its names; lists where the statement declares a name as expanding. Raises what the driver
    raises (`sqlite3.Error` of the module in use), KeyError for a name without a value.
    """
    return _cursor(connection, statement, given or {}).fetchall()  # type: ignore[no-any-return]


def ask_by_name(connection: Connection, statement: TextClause, given: Given | None = None) -> list[dict[str, Any]]:
    """The same, each row by the names of its columns."""
    cursor = _cursor(connection, statement, given or {})
    names = [column[0] for column in cursor.description]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def ask_one(connection: Connection, statement: TextClause, given: Given | None = None) -> Row | None:
    """The first row, if there is any."""
    return _cursor(connection, statement, given or {}).fetchone()  # type: ignore[no-any-return]


def ask_values(connection: Connection, statement: TextClause, given: Given | None = None) -> list[Any]:
    """The first column of all rows."""
    return [row[0] for row in _cursor(connection, statement, given or {})]


def ask_value(connection: Connection, statement: TextClause, given: Given | None = None) -> Any:
    """The first column of the first row; None where there is none."""
    row = ask_one(connection, statement, given)
    return None if row is None else row[0]


def _cursor(connection: Connection, statement: TextClause, given: Given) -> Any:
    if not connection.in_transaction():
        connection.begin()  # else each statement would see a moment of its own
    sizes, values = [], dict(given)
    for name in _lists(statement):
        some = values.pop(name)
        sizes.append((name, len(some)))
        values.update((f"{name}_{at}", value) for at, value in enumerate(some))
    sql = _written(statement, tuple(sizes))
    for heard in connection.dispatch.before_cursor_execute:
        heard(connection, None, sql, values, None, False)
    driver = connection.connection.driver_connection
    assert driver is not None
    return driver.execute(sql, values)


@cache
def _lists(statement: TextClause) -> tuple[str, ...]:
    """The names that stand for lists."""
    return tuple(name for name, bind in statement._bindparams.items() if bind.expanding)


@lru_cache(maxsize=512)
def _written(statement: TextClause, sizes: tuple[tuple[str, int], ...]) -> str:
    """The text with so many names for each list, which SQLite keeps prepared."""
    sql = statement.text
    for name, size in sizes:
        names = f"({', '.join(f':{name}_{at}' for at in range(size))})" if size else NONE_OF_THEM
        sql = re.sub(rf"(?<!:):{name}\b", names, sql)
    return sql
