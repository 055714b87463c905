"""What is laid over photos as it stands, whichever entry laid it there: rings, arrows, lengths; never in the bytes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec
from sqlalchemy import Connection, text

from loupebook.inspections.tables.stands import STANDS
from loupebook.log.asking import ask
from loupebook.record.kinds import Arrow, Length, Ring

LAID = text(
    "SELECT d.photo, d.rings, d.arrows, d.lengths FROM json_each(:photos) w JOIN photos_laid d ON d.photo = w.value "
    f"JOIN acts a ON a.version = d.version WHERE {STANDS} ORDER BY d.photo, d.when_ms, d.version"
)


class Over(msgspec.Struct, frozen=True):
    """All that stands over one photo."""

    rings: tuple[Ring, ...] = ()
    arrows: tuple[Arrow, ...] = ()
    lengths: tuple[Length, ...] = ()


NOTHING = Over()


def laid_over(connection: Connection, photos: Iterable[str]) -> Mapping[str, Over]:
    """By photo, those with something over them; what two entries say alike is there once."""
    names = sorted(set(photos))
    if not names:
        return {}
    found: dict[str, Over] = {}
    for photo, *lists in ask(connection, LAID, {"photos": msgspec.json.encode(names).decode()}):
        found[photo] = together(found.get(photo, NOTHING), over_of(*lists))
    return {photo: over for photo, over in found.items() if over != NOTHING}


def over_of(rings: str, arrows: str, lengths: str) -> Over:
    """One entry's lists, as they lie in rows."""
    return Over(
        msgspec.json.decode(rings, type=tuple[Ring, ...]),
        msgspec.json.decode(arrows, type=tuple[Arrow, ...]),
        msgspec.json.decode(lengths, type=tuple[Length, ...]),
    )


def together(one: Over, other: Over) -> Over:
    """Both, each thing once."""
    return Over(
        tuple(dict.fromkeys((*one.rings, *other.rings))),
        tuple(dict.fromkeys((*one.arrows, *other.arrows))),
        tuple(dict.fromkeys((*one.lengths, *other.lengths))),
    )


def shown_over(over: Mapping[str, Over], photo: object) -> dict[str, object]:
    """`{laid: …}` for a row that shows this photo; nothing where nothing lies over it."""
    return {"laid": msgspec.to_builtins(over[photo])} if isinstance(photo, str) and photo in over else {}
