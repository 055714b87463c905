"""What one look at a photo found, as a value and as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Literal, cast, get_args

from loupebook.vault import PhotoType

State = Literal["shown", "cannot_be_shown"]
"""shown: opened, with thumbnails. cannot_be_shown: its bytes are kept, no screen will draw them."""

CannotReason = Literal[
    "not_a_photo",  # neither JPEG, PNG nor WebP by its first bytes
    "too_many_pixels",  # more than 50 million, announced by its header; not decoded
    "broken_file",  # the decoder gave up: cut short, or not what its header says
    "too_much_memory",  # the decoder wanted more than it may have
    "took_too_long",  # the decoder was stopped at its time limit
    "decoder_stopped",  # the child process died on it, twice
    "damaged",  # the vault's bytes no longer have their hash
]

Symbology = Literal["DataMatrix", "QRCode", "Code128", "Code39"]


@dataclass(frozen=True)
class Code:
    """A code read in a photo.

    text        as read, FNC1 separators as GS (0x1D), no brackets
    symbology   what kind of symbol
    raw         the bytes in hex
    identifier  ISO/IEC 15424 symbology identifier such as ]d2 (GS1 DataMatrix); empty when the reader
                does not tell (the second reader never does)
    """

    text: str
    symbology: Symbology
    raw: str
    identifier: str


@dataclass(frozen=True)
class Look:
    """One look. Width and height in pixels, upright. Zeros and nothing where it could not be opened.

    sharpness_permille  see `sharpness.Measured`; to be compared with looks at the same thing only
    mean                mean grey, 0 (black) to 255
    """

    state: State
    reason: CannotReason | None = None
    type: PhotoType | None = None
    width: int = 0
    height: int = 0
    sharpness_permille: int = 0
    mean: int = 0
    codes: tuple[Code, ...] = ()

    def to_json(self) -> dict[str, object]:
        return asdict(self)


def look_from_json(record: Mapping[str, object]) -> Look:
    """A look from its JSON; ValueError when it is not one (written by another version, or by a taken-over child)."""
    state, reason, kind = record.get("state"), record.get("reason"), record.get("type")
    if state not in get_args(State) or reason not in (None, *get_args(CannotReason)):
        raise ValueError("a look has a state and a reason of the closed lists")
    if kind not in (None, *get_args(PhotoType)):
        raise ValueError("a look's type is a photo's")
    codes = record.get("codes")
    if not isinstance(codes, list | tuple):
        raise ValueError("a look has a list of codes")
    return Look(
        state=cast(State, state),
        reason=cast(CannotReason | None, reason),
        type=cast(PhotoType | None, kind),
        width=_whole(record, "width"),
        height=_whole(record, "height"),
        sharpness_permille=_whole(record, "sharpness_permille"),
        mean=_whole(record, "mean"),
        codes=tuple(map(_code_from_json, codes)),
    )


def _whole(record: Mapping[str, object], key: str) -> int:
    value = record.get(key)
    if type(value) is not int or value < 0:
        raise ValueError(f"{key} is a whole number from 0")
    return value


def _code_from_json(code: object) -> Code:
    if not isinstance(code, dict):
        raise ValueError("a code is an object")
    values = [code.get(key) for key in ("text", "symbology", "raw", "identifier")]
    if not all(isinstance(value, str) for value in values) or values[1] not in get_args(Symbology):
        raise ValueError("a code is four texts, its symbology of the closed list")
    text, symbology, raw, identifier = values
    return Code(str(text), cast(Symbology, symbology), str(raw), str(identifier))
