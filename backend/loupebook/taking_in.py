"""`POST /lead/unsent`: the file of a tablet that cannot send, taken in as if the tablet had sent it.

The tablet writes such a file itself (`record/unsent.ts`; its form stands in DEVELOPERS.md). Batches are signed with
the tablet's key, so the file proves whose they are whoever carries it. What is here already is said to be; what one
batch or photo is refused for holds up no other.
"""

# No postponed annotations here: the route's parameter types name values of the enclosing function.
import base64
import binascii
import logging
from collections.abc import AsyncIterator, Callable
from typing import Annotated, Final, Literal, TypeVar

import anyio
import msgspec
from anyio import to_thread
from fastapi import APIRouter, Depends, Request, Response
from msgspec import Struct, field
from sqlalchemy import Connection
from starlette.requests import ClientDisconnect

from loupebook.door.asks import the_person
from loupebook.door.trouble import NOTHING_CHANGED, Trouble, told
from loupebook.door.who import PersonHere
from loupebook.log.intake import MOST_BYTES, MOST_LINES, Result
from loupebook.log.log import Log
from loupebook.log.port import StationState
from loupebook.log.trouble import LogRefusal, UnknownChain
from loupebook.trouble import OURS
from loupebook.vault.errors import NoRoom, VaultRefusal, WrongHash
from loupebook.vault.names import LONGEST_BYTES, NotAHash, Sha256, sha256_name
from loupebook.vault.port import Vault, put
from loupebook.vault.routes import NamedPhoto, Receipt
from loupebook.vault.troubles import ALTERED, BROKEN, ENTRY_FIRST, ERASED, NO_ROOM, OTHER_LENGTH

log = logging.getLogger(__name__)

T = TypeVar("T")

StationOf = Callable[[Connection, str], StationState | None]
"""A chain's station, or None where no enrolled station writes it."""

LONGEST_LINE: Final = LONGEST_BYTES * 4 // 3 + 4096
"""Bytes of the longest line: the largest photo in base64, and its words."""
IDLE_S: Final = 60.0
"""Seconds without a byte after which the file is given up; what came before counts."""


class FirstLine(Struct, frozen=True, forbid_unknown_fields=True):
    """What a file begins with: that it is one of ours, of which form, whose, and when it was written."""

    loupebook: Literal["unsent"]
    v: Literal[1]
    station: str
    at: str


class BatchLine(Struct, frozen=True, forbid_unknown_fields=True):
    """Before the lines of a batch: their chain, the seq of the first, how many; after them comes the signed head."""

    chain: str
    first: int = field(name="from")
    lines: int = 0


class PhotoLine(Struct, frozen=True, forbid_unknown_fields=True):
    """A photo without a receipt."""

    photo: str
    type: str
    base64: str


class EndLine(Struct, frozen=True, forbid_unknown_fields=True):
    """The last line: a file without it was cut."""

    end: bool
    entries: int
    photos: int


class Refused(Struct, frozen=True):
    """One batch or photo that was not taken, and why; `of` names it."""

    of: str
    code: str
    so: str
    safe: str
    next: str


class Taken(Struct):
    """What became of a file."""

    station: str
    entries: dict[str, int]
    photos: dict[str, int]
    refused: list[Refused]
    epoch: dict[str, int | str]
    whole: bool = False


NOT_UNSENT = Trouble(
    422, "not_unsent", "This is not a file of unsent work.", NOTHING_CHANGED,
    "On the tablet, open what is kept and write the file there.",
)  # fmt: skip


class TakingIn:
    """Takes one file in, line by line. Made anew for each file."""

    def __init__(
        self, log: Log, station_of: Callable[[Connection, str], StationState | None], photos: "Photos"
    ) -> None:
        self._log = log
        self._station_of = station_of
        self._photos = photos

    async def take(self, lines: AsyncIterator[bytes]) -> Taken:
        """Reads the file to its end or to where it was cut. Raises Trouble where it is none of ours."""
        first = _read(await anext(lines, b""), FirstLine)
        if first is None:
            raise NOT_UNSENT
        taken = Taken(
            first.station,
            {"stored": 0, "already": 0, "aside": 0, "stray": 0},
            {"stored": 0, "already": 0},
            [],
            self._log.epoch()._asdict(),
        )
        async for line in lines:
            if _read(line, EndLine) is not None:
                taken.whole = True
            elif (batch := _read(line, BatchLine)) is not None:
                await self._batch(batch, lines, taken)
            elif (photo := _read(line, PhotoLine)) is not None:
                await self._photo(photo, taken)
            else:
                break  # cut, or altered: nothing behind it can be placed
        return taken

    async def _batch(self, batch: BatchLine, lines: AsyncIterator[bytes], taken: Taken) -> None:
        pieces: list[bytes] = []
        length = 0
        for _ in range(min(max(batch.lines, 0), MOST_LINES) + 1):
            line = await anext(lines, None)
            if line is None:
                return  # cut inside the batch: it is not signed to its end
            length += len(line) + 1
            if length <= MOST_BYTES:
                pieces.append(line)
        body = b"\n".join(pieces) + b"\n"
        of = f"{batch.chain[:12]}/{batch.first}"
        try:
            station = await to_thread.run_sync(self._station, batch.chain)
            result = await self._log.take(batch.chain, batch.first, body, station)
        except LogRefusal as refused:
            taken.refused.append(Refused(of, **refused.words()))
            return
        _count(result, taken.entries)

    def _station(self, chain: str) -> str:
        with self._log.reading() as connection:
            state = self._station_of(connection, chain)
        if state is None:
            raise UnknownChain
        return state.station

    async def _photo(self, photo: PhotoLine, taken: Taken) -> None:
        kept = await to_thread.run_sync(self._photos.keep, photo)
        if isinstance(kept, Trouble):
            taken.refused.append(Refused(photo.photo[:12], **kept.words()))
        else:
            taken.photos[kept] += 1


class Photos:
    """Puts a photo from a file where a photo sent by a tablet goes, under the same conditions."""

    def __init__(
        self,
        vault: Vault,
        named: Callable[[Sha256], NamedPhoto | None],
        stored: Callable[[Sha256, int], Receipt],
        look_wanted: Callable[[Sha256], None],
    ) -> None:
        self._vault = vault
        self._named = named
        self._stored = stored
        self._look_wanted = look_wanted

    def keep(self, line: PhotoLine) -> Literal["stored", "already"] | Trouble:
        """Durable with its row when it returns, or why not. Blocks."""
        try:
            sha256, data = sha256_name(line.photo), base64.b64decode(line.base64, validate=True)
        except (NotAHash, binascii.Error):
            return ALTERED
        photo = self._named(sha256)
        if photo is None:
            return ENTRY_FIRST
        if photo.erased:
            return ERASED
        if photo.bytes != len(data):
            return OTHER_LENGTH
        try:
            outcome: Literal["stored", "already"] = (
                "already" if self._vault.holds(sha256) else put(self._vault, [data], sha256, len(data))
            )
        except WrongHash:
            return ALTERED
        except NoRoom:
            return NO_ROOM
        except VaultRefusal:
            return BROKEN
        self._stored(sha256, len(data))
        self._look_wanted(sha256)
        return outcome


def taking_in_routes(log_: Log, station_of: StationOf, photos: Photos) -> APIRouter:
    """`POST /lead/unsent`: the file as it is -> `{station, entries, photos, refused, whole, epoch}`."""
    router = APIRouter()

    @router.post("/lead/unsent", response_model=None)
    async def post_unsent(request: Request, lead: Annotated[PersonHere, Depends(the_person)]) -> Response:
        try:
            taken = await TakingIn(log_, station_of, photos).take(_lines(request))
        except Trouble as trouble:
            return told(trouble)
        except ClientDisconnect:
            return Response(status_code=499)  # nobody is there to read it
        log.info("unsent work of a station was taken in by hand, person=%s", lead.person)
        return Response(msgspec.json.encode(taken), 200, OURS, "application/json")

    return router


def _count(result: Result, entries: dict[str, int]) -> None:
    for receipt in result.receipts:
        put_aside = receipt.state == "stored" and receipt.verdict == "aside"
        entries["aside" if put_aside else receipt.state] += 1


def _read(line: bytes, shape: type[T]) -> T | None:
    try:
        return msgspec.json.decode(line, type=shape)
    except (msgspec.DecodeError, UnicodeDecodeError):
        return None


async def _lines(request: Request) -> AsyncIterator[bytes]:
    """The body's lines, without their ends. Ends early where a line is too long or the file stops coming."""
    rest = bytearray()
    stream = aiter(request.stream())
    while True:
        try:
            with anyio.fail_after(IDLE_S):
                chunk = await anext(stream, None)
        except TimeoutError:
            return
        if chunk is None:
            break
        at = len(rest)
        rest += chunk
        while (end := rest.find(b"\n", at)) >= 0:
            yield bytes(rest[:end])
            del rest[: end + 1]
            at = 0
        if len(rest) > LONGEST_LINE:
            return
    if rest:
        yield bytes(rest)
