"""What a code says once it is read: the shape both languages return, and its closed lists.

The TypeScript twin is `frontend/src/rules/codes-shape.ts`; the two are held together by
`shared/vectors/codes.json` and by random cases run through both.
"""

import re
from typing import Final, Literal, NotRequired, TypedDict, get_args

Form = Literal["gs1", "gs1_human", "gs1_link", "hibc", "iccbba", "plain", "command", "badge", "own", "enrol"]
"""How the text is built.

gs1: element string · gs1_human: the same with brackets, as printed beside a code · gs1_link: web
address of a GS1 Digital Link · hibc, iccbba: the other two issuing bodies · plain: anything else,
for instance a facility tag · command: a laminated card · badge: a person · own: our label of a
scope, a tool, a place, a repair or an offer · enrol: a new station.
"""

Check = Literal["good", "bad", "none"]
"""Check digit (GS1: of the DI) or check character (HIBC: of the whole text); none: nothing to check."""

Issuer = Literal["GS1", "HIBCC", "ICCBBA"]

Command = Literal[
    "nothing-found", "photo", "next", "back", "undo", "zone", "could-not-look", "conclude", "confirm", "wipe",
    "answer-1", "answer-2", "answer-3", "answer-4", "answer-5", "answer-6", "answer-7", "answer-8",
]  # fmt: skip
COMMANDS: Final[tuple[Command, ...]] = get_args(Command)

NoteCode = Literal[
    "case_changed",
    "character_not_allowed",
    "check_digit_wrong",
    "date_day_zero",
    "date_not_real",
    "field_twice",
    "gs_replaced",
    "human_form_in_code",
    "iccbba_not_supported",
    "link_host_ignored",
    "no_serial",
    "not_digits",
    "own_not_known",
    "secondary_only",
    "separator_may_be_missing",
    "symbology_stripped",
    "text_cut",
    "too_short",
    "unknown_ai",
    "value_too_long",
]
"""What a person or the rules should know beside the values.

case_changed: small letters were read as capitals (HIBC has capitals only)
character_not_allowed: lot or serial holds a character its standard does not have; kept as read
check_digit_wrong: `found` stands where `expected` belongs
date_day_zero: the date names a month only; its last day is taken
date_not_real: there is no such day; the date is left out
field_twice: the same field with two values; the first is kept
gs_replaced: the reader wrote the separator as visible text; it was taken for the separator
human_form_in_code: the brackets stand inside the code itself, where they do not belong
iccbba_not_supported: a tissue or blood code; named, not used for scopes
link_host_ignored: a web address; it was never opened
no_serial: a DI without a serial is a model, not a scope: ask for the serial
not_digits: digits were due (`ai` says where)
own_not_known: begins like a label of ours, but this build does not know it
secondary_only: HIBC lot or serial code without the product code that belongs before it
separator_may_be_missing: lot and serial may have run together: ask, `readings` are what it may mean
symbology_stripped: the three signs a reader puts in front were taken off and kept
text_cut: longer than 4,096 characters; the rest was not read
too_short: fewer characters than the field has
unknown_ai: a field nobody has assigned (`ai`); it was skipped
value_too_long: more characters than the standard gives this field; kept as read
"""


class Split(TypedDict):
    """One way to part a run-together lot and serial."""

    lot: str
    serial: str


class Note(TypedDict):
    """One remark; `ai` names the field, `expected` and `found` go with a check character."""

    note: NoteCode
    ai: NotRequired[str]
    expected: NotRequired[str]
    found: NotRequired[str]
    readings: NotRequired[list[Split]]


class Own(TypedDict):
    """What a label of ours carries; `once` is the one-time code of an enrol label."""

    kind: Literal["scope", "tool", "person", "command", "enrol", "repair", "place", "offer"]
    value: str
    once: NotRequired[str]


class Code(TypedDict):
    """A code as read. Dates are `YYYY-MM-DD`, an expiry with an hour `YYYY-MM-DDTHH`."""

    form: Form
    di: NotRequired[str]
    serial: NotRequired[str]
    lot: NotRequired[str]
    made: NotRequired[str]
    expires: NotRequired[str]
    issuer: NotRequired[Issuer]
    own: NotRequired[Own]
    symbology: NotRequired[str]
    check: Check
    notes: list[Note]
    text: str


Field = Literal["di", "serial", "lot", "made", "expires"]

_DAYS: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_DIGITS: Final = re.compile(r"[0-9]+")


class Found:
    """What has been gathered from one text so far; the first value of a field stays."""

    def __init__(self, today_year: int) -> None:
        self.today_year = today_year
        self.fields: dict[Field, str] = {}
        self.check: Check = "none"
        self.notes: list[Note] = []
        self._told: set[tuple[NoteCode, str]] = set()

    def note(self, note: NoteCode, ai: str = "") -> None:
        """Remark `note` once for each field."""
        self.say({"note": note, "ai": ai} if ai else {"note": note})

    def say(self, note: Note) -> None:
        """Remark a note that carries more than its field."""
        told = (note["note"], note.get("ai", ""))
        if told not in self._told:
            self._told.add(told)
            self.notes.append(note)

    def put(self, field: Field, value: str, ai: str) -> None:
        """Keep `value`, unless the field has one already; two that differ are remarked."""
        if self.fields.setdefault(field, value) != value:
            self.note("field_twice", ai)

    def put_date(self, field: Field, date: str | None, ai: str) -> None:
        """Keep a date, or remark that there is no such day."""
        if date is None:
            self.note("date_not_real", ai)
        else:
            self.put(field, date, ai)


def all_digits(text: str) -> bool:
    """True for one or more of 0-9 and nothing else (`str.isdigit` also takes other scripts)."""
    return _DIGITS.fullmatch(text) is not None


def full_year(two_digits: int, today_year: int) -> int:
    """The year meant by two digits: 49 years back to 50 ahead (GS1 General Specifications 7.12)."""
    century = today_year - today_year % 100
    ahead = two_digits - today_year % 100
    if ahead >= 51:
        return century - 100 + two_digits
    if ahead <= -50:
        return century + 100 + two_digits
    return century + two_digits


def days_in(year: int, month: int) -> int:
    """Days of a month 1-12 in the Gregorian calendar."""
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    return 29 if month == 2 and leap else _DAYS[month - 1]


def real_date(year: int, month: int, day: int) -> str | None:
    """`YYYY-MM-DD`, or None where the calendar has no such day."""
    if not (1 <= month <= 12 and 1 <= day <= days_in(year, month)):
        return None
    return f"{year:04d}-{month:02d}-{day:02d}"


def month_end(year: int, month: int) -> str | None:
    """The last day of a month, for dates that name a month only."""
    return real_date(year, month, days_in(year, month)) if 1 <= month <= 12 else None
