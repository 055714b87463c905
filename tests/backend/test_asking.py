"""Fixed questions asked of the driver: the same rows as SQLAlchemy gives for the same statement, in one moment.

The reference is SQLAlchemy itself, by which the same text is run beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from loupebook.log.asking import ask, ask_by_name, ask_one, ask_value, ask_values
from loupebook.log.engine import open_engine, reader
from sqlalchemy import Connection, Engine, bindparam, event, text

pytestmark = [pytest.mark.sink, pytest.mark.shift]

SOME = text("SELECT n, word FROM things WHERE n IN :some AND word <> :some_word ORDER BY n").bindparams(
    bindparam("some", expanding=True)
)
OTHERS = text("SELECT n FROM things WHERE n NOT IN :some ORDER BY n").bindparams(bindparam("some", expanding=True))
GIVEN: list[tuple[Any, dict[str, Any]]] = [
    (SOME, {"some": [1, 3, 99], "some_word": "three"}),
    (SOME, {"some": list(range(300)), "some_word": "none"}),
    (SOME, {"some": [], "some_word": "none"}),
    (SOME, {"some": [1, None], "some_word": "x"}),
    (OTHERS, {"some": [2]}),
    (OTHERS, {"some": []}),
    (text("SELECT count(*), NULL FROM things"), {}),
    (text("SELECT n FROM things WHERE word = :word"), {"word": "' OR 1 --"}),
]


@pytest.fixture
def engine(tmp_path: Path) -> Iterator[Engine]:
    made = open_engine(tmp_path / "things.sqlite")
    with made.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE things (n INTEGER PRIMARY KEY, word TEXT)")
        connection.exec_driver_sql("INSERT INTO things VALUES (1, 'one'), (2, 'two'), (3, 'three'), (4, 'four')")
    yield made
    made.dispose()


@pytest.fixture
def read(engine: Engine) -> Iterator[Connection]:
    with reader(engine).connect() as connection:
        yield connection


@pytest.mark.parametrize(("statement", "given"), GIVEN)
def test_the_rows_are_those_of_sqlalchemy(read: Connection, statement: Any, given: dict[str, Any]) -> None:
    wanted = [tuple(row) for row in read.execute(statement, given)]
    assert ask(read, statement, given) == wanted
    assert ask_values(read, statement, given) == [row[0] for row in wanted]
    assert ask_one(read, statement, given) == (wanted[0] if wanted else None)
    assert ask_value(read, statement, given) == (wanted[0][0] if wanted else None)
    assert ask_by_name(read, statement, given) == [dict(row) for row in read.execute(statement, given).mappings()]


def test_a_name_that_has_no_value_is_an_error_and_no_empty_answer(read: Connection) -> None:
    with pytest.raises(Exception, match="binding"):
        ask(read, text("SELECT n FROM things WHERE word = :word"))
    with pytest.raises(KeyError):
        ask(read, SOME, {"some_word": "x"})


def test_all_that_is_asked_on_one_connection_is_of_one_moment(engine: Engine, read: Connection) -> None:
    many = text("SELECT count(*) FROM things")
    assert ask_value(read, many) == 4  # the first that is asked on this connection at all
    with engine.begin() as write:
        write.exec_driver_sql("INSERT INTO things VALUES (5, 'five')")
    assert ask_value(read, many) == 4
    read.rollback()
    assert ask_value(read, many) == 5


def test_who_listens_for_statements_hears_them(engine: Engine, read: Connection) -> None:
    heard: list[tuple[str, Any]] = []

    def hear(_c: object, _u: object, statement: str, given: Any, *_: object) -> None:
        heard.append((statement, given))

    event.listen(engine, "before_cursor_execute", hear)
    ask(read, SOME, {"some": [1, 3], "some_word": "x"})
    event.remove(engine, "before_cursor_execute", hear)
    (statement, given) = heard[-1]
    assert "IN (:some_0, :some_1)" in statement
    assert given == {"some_0": 1, "some_1": 3, "some_word": "x"}
    assert [tuple(row) for row in read.exec_driver_sql(statement, given)] == [(1, "one"), (3, "three")]
