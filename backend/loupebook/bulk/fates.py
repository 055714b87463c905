"""What becomes of a row, before anything is written: closed lists of fates, notes and reasons. The words are the
screen's."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import msgspec
from msgspec import Struct

Kind = Literal["new", "known", "changes", "same", "duplicate", "refused"]
"""new: not on record yet · known: met at a sink and registered there, now put on record · changes: on record, and the
file says something else of it · same: on record just so · duplicate: the same as an earlier row of the file ·
refused: not taken, for its reason. What is on record is never taken away: an empty cell leaves it as it is."""

Reason = Literal[
    "bad_check_digit", "became_date", "became_number", "channel_length_not_read", "channel_not_of_kind",
    "code_not_read", "code_without_scope", "date_not_read", "inner_not_read", "kind_missing", "kind_unknown",
    "length_not_read", "name_missing", "name_too_long", "none_but_sized", "not_enough", "part_unknown", "role_unknown",
    "roles_missing", "separator_missing", "serial_differs", "serial_missing", "sizes_without_source", "text_too_long",
    "tissue_code",
]  # fmt: skip
"""Why a row is refused.

bad_check_digit: the DI's last digit is `found` where `expected` belongs · became_date, became_number: the spreadsheet
changed the cell of `column` · channel_not_of_kind: `word` is a channel, not one of this kind ·
none_but_sized: the row says that the scope has none of `word`, and gives a size of it · part_unknown: `word` in
`column` names no part or channel of this kind, with the `nearest` · sizes_without_source: sizes, and no word of the
instructions they were read from · code_not_read: neither GS1 nor HIBC nor a DI · code_without_scope: a code of a lot
or a date only · kind_unknown: `word`, with the `nearest` kind · not_enough: `missing` columns of maker, model, serial ·
separator_missing: lot and serial may have run together, `readings` · serial_differs: `code` and `column` say two.
"""

Note = Literal[
    "check_character_wrong", "di_padded", "hibc_read", "gs1_read", "kind_read", "part_read", "person_off",
    "roles_differ", "serial_elsewhere", "tag_elsewhere", "tag_twice",
]  # fmt: skip
"""What a person should know of a row that is taken.

check_character_wrong: a HIBC whose check character is `found` where `expected` belongs: held against the scope ·
di_padded: a leading zero was put back · hibc_read, gs1_read: DI and serial come from the code · kind_read,
part_read: `word` was taken for the kind or the part `found` · serial_elsewhere,
tag_elsewhere: on record of another scope, `other` · tag_twice: also in row `row`.
"""


class Remark(Struct, frozen=True, omit_defaults=True):
    """A note or a reason with what belongs to it."""

    code: str
    column: str = ""
    found: str = ""
    expected: str = ""
    word: str = ""
    nearest: str = ""
    missing: list[str] = []
    readings: list[str] = []
    other: str = ""
    row: int = 0


class Differs(Struct, frozen=True):
    """One thing the file says otherwise than the record."""

    field: str
    before: str
    after: str


class SizeRead(Struct, frozen=True, omit_defaults=True):
    """One channel as the file's sizes were understood: micrometres, millimetres, what can be done in it."""

    channel: str
    inner_um: int = 0
    length_mm: int = 0
    reach: str = ""


class Fate(Struct, frozen=True, omit_defaults=True):
    """One row: its number, what it is called, what becomes of it."""

    row: int
    name: str
    fate: Kind
    key: str = ""
    reason: Remark | None = None
    notes: list[Remark] = []
    changes: list[Differs] = []
    of: int = 0
    """For a duplicate: the earlier row."""
    kind: str = ""
    serial: str = ""
    sizes: list[SizeRead] = []
    none_here: list[str] = []
    """What the row says of channels and of what there is none of, as it was understood."""


class Refused(Exception):
    """The row is not taken."""

    def __init__(self, code: Reason, **more: Any) -> None:
        super().__init__(code)
        self.remark = Remark(code, **more)


@dataclass(frozen=True)
class Write:
    """One entry to be: what it is about, its body, and the version on record it builds on ('' for none)."""

    about: str
    body: Struct
    builds_on: str


@dataclass(frozen=True)
class Plan:
    """Every row's fate, and what would be written, in the file's order."""

    what: str
    fates: Sequence[Fate]
    writes: Sequence[Write]

    @property
    def id(self) -> str:
        """What names this plan: the same file against the same record, and nothing else, gives it again."""
        rows = [[write.about, write.builds_on, msgspec.to_builtins(write.body)] for write in self.writes]
        raw = msgspec.json.encode([self.what, rows])
        return hashlib.sha256(b"loupebook/bulk/1\n" + raw).hexdigest()

    def counts(self) -> dict[str, int]:
        """How many rows have each fate; they add up to the rows of the file."""
        counted = dict.fromkeys(("new", "known", "changes", "same", "duplicate", "refused"), 0)
        for fate in self.fates:
            counted[fate.fate] += 1
        return counted
