"""The two photo routes over HTTP. Who may, what is named and what a receipt says are handed in.

`photo_routes` knows neither the log nor the door: `PhotoDoors` are the seams, filled where all is joined.
"""

# No postponed annotations here: the routes' parameter types name values of the enclosing function.
import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Annotated, Any, Generic, Literal, TypeVar

import msgspec
from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import JSONResponse
from starlette.requests import ClientDisconnect

from loupebook.direct import direct_route
from loupebook.trouble import OURS, told
from loupebook.vault.derived import Derived
from loupebook.vault.errors import (
    Broken,
    Damaged,
    Missing,
    NoRoom,
    TooLarge,
    VaultRefusal,
    WrongHash,
    WrongLength,
)
from loupebook.vault.names import LONGEST_BYTES, NotAHash, Sha256, sha256_name
from loupebook.vault.port import Outcome, Receiving, Vault, read_checked
from loupebook.vault.sniff import sniff
from loupebook.vault.strip import only_the_picture
from loupebook.vault.troubles import (
    ALTERED,
    BROKEN,
    CANNOT_BE_SHOWN,
    DAMAGED,
    ENTRY_FIRST,
    ERASED,
    NO_LENGTH,
    NO_PHOTO,
    NO_ROOM,
    NOT_OURS,
    OTHER_LENGTH,
    REENCODED,
    RESTRICTED,
    TOO_LARGE,
    TOO_SLOW,
)

T = TypeVar("T")
StationT = TypeVar("StationT")
ViewerT = TypeVar("ViewerT")

PIECE_BYTES = 1024 * 1024
"""How much of a photo is gathered before a thread hashes and writes it: one of the usual 0.6 MB is written in the
thread that makes it durable, without a hop between."""

GATHERED_BYTES = 64 * PIECE_BYTES
"""What all photos under way may hold in memory together; where many come at once, pieces are smaller."""

LEAST_PIECE_BYTES = 64 * 1024

IDLE_S = 60.0
"""Seconds without a byte after which a photo is given up; the tablet begins it again (its own limit is the same)."""

THREADS = 24
"""Photos made durable at once. Threads wait for the disk, not for the processor, so more than there are cores."""


@dataclass(frozen=True)
class NamedPhoto:
    """A photo that a received entry names: its length as the entry says it, and whether two leads erased it."""

    sha256: Sha256
    bytes: int
    erased: bool = False


@dataclass(frozen=True)
class Receipt:
    """What was written down about a stored photo: the epoch its row was written in."""

    epoch_n: int
    epoch_id: str


@dataclass(frozen=True)
class PhotoDoors(Generic[StationT, ViewerT]):
    """What the routes need from outside.

    named        the photo as received entries name it, or None. Blocking; runs in a thread
    stored       write (or find) the row of a durable photo, durably. Blocking; runs in a thread; may come twice
    received     whether a receipt was given for this photo. Blocking; runs in a thread
    look_wanted  a photo has no look yet: queue one. Returns at once
    moves        a photo begins to come, or has come: other work had better wait. Returns at once
    station_of   the sending station, revoked ones too; refuses by itself
    viewer_of    dependency: who looks at a photo; answers 401 itself
    restricted   True when this photo is hidden from this viewer. Blocking; runs in a thread
    """

    named: Callable[[Sha256], NamedPhoto | None]
    stored: Callable[[Sha256, int], Receipt]
    received: Callable[[Sha256], bool]
    look_wanted: Callable[[Sha256], None]
    station_of: Callable[[Request], Awaitable[StationT]]
    viewer_of: Callable[..., ViewerT | Coroutine[Any, Any, ViewerT]]
    restricted: Callable[[Sha256, ViewerT], bool]
    moves: Callable[[], None] = lambda: None


def photo_routes(
    vault: Vault,
    derived: Derived,
    doors: PhotoDoors[StationT, ViewerT],
    *,
    idle_s: float = IDLE_S,
) -> APIRouter:
    """`PUT /photos/{sha256}` and `GET /photos/{sha256}?size=320|640|full`."""
    router = APIRouter()
    threads = ThreadPoolExecutor(THREADS, "photos")
    coming = 0

    def begin(sha256: Sha256, length: int) -> Receiving | Receipt | Response:
        """Before any byte is read: a refusal, the receipt of a photo that is here, or the way in."""
        photo = doors.named(sha256)
        if photo is None:
            return told(ENTRY_FIRST)
        if photo.erased:
            return told(ERASED)
        if photo.bytes != length:
            return told(OTHER_LENGTH)
        if vault.holds(sha256):
            return doors.stored(sha256, length)
        return vault.receive(sha256, length)

    def finish(receiving: Receiving, last: bytes, sha256: Sha256, length: int) -> tuple[Outcome, Receipt]:
        if last:
            receiving.write(last)
        outcome = receiving.keep()
        return outcome, doors.stored(sha256, length)

    async def in_thread(work: Callable[..., T], *args: object) -> T:
        """A request that is cancelled waits for its thread: what that one works on is dropped only after it."""
        doing = asyncio.get_running_loop().run_in_executor(threads, work, *args)
        try:
            return await asyncio.shield(doing)
        except asyncio.CancelledError:
            await asyncio.wait({doing})
            raise

    def most() -> int:
        return max(LEAST_PIECE_BYTES, min(PIECE_BYTES, GATHERED_BYTES // max(1, coming)))

    async def take(receiving: Receiving, request: Request, sha256: Sha256, length: int) -> tuple[Outcome, Receipt]:
        came, last = 0, b""
        async for piece in _pieces(request, most, idle_s):
            came += len(piece)
            if came < length or last:
                await in_thread(receiving.write, last + piece)
                last = b""
            else:  # written by the thread that also makes it durable
                last = piece
        return await in_thread(finish, receiving, last, sha256, length)

    async def put_photo(request: Request) -> Response:
        nonlocal coming
        await doors.station_of(request)
        try:
            sha256 = sha256_name(request.path_params["name"])
        except NotAHash:
            return told(NO_PHOTO)
        length = _announced(request)
        if isinstance(length, Response):
            return length
        coming += 1
        doors.moves()
        try:
            return await put_named(request, sha256, length)
        finally:
            coming -= 1
            doors.moves()

    async def put_named(request: Request, sha256: Sha256, length: int) -> Response:
        receiving: Receiving | None = None
        try:
            begun = await in_thread(begin, sha256, length)
            if isinstance(begun, Response):
                return begun
            if isinstance(begun, Receipt):
                doors.look_wanted(sha256)
                return _receipt(sha256, "already", length, begun)
            receiving = begun
            outcome, receipt = await take(receiving, request, sha256, length)
        except VaultRefusal as refusal:
            return _refused(refusal)
        except TimeoutError:
            return told(TOO_SLOW)
        except ClientDisconnect:
            return Response(status_code=499)  # nobody is there to read it
        finally:
            if receiving is not None:
                receiving.drop()
        doors.look_wanted(sha256)
        return _receipt(sha256, outcome, length, receipt)

    router.routes.append(direct_route("PUT", "/photos/{name}", put_photo))

    @router.get("/photos/{name}", response_model=None)
    def get_photo(
        name: str,
        viewer: Annotated[ViewerT, Depends(doors.viewer_of)],
        size: Literal["320", "640", "full"] = "full",
    ) -> Response:
        try:
            sha256 = sha256_name(name)
        except NotAHash:
            return told(NO_PHOTO)
        photo = doors.named(sha256)
        if photo is None:
            return told(NO_PHOTO)
        if doors.restricted(sha256, viewer):
            return told(RESTRICTED)
        if photo.erased:
            return told(ERASED)
        if not vault.exists(sha256):
            return told(DAMAGED) if doors.received(sha256) else _later(sha256, "not_here_yet")
        look = derived.look(sha256)
        if look is None:
            doors.look_wanted(sha256)
            return _later(sha256, "not_looked_at_yet")
        shown = look["state"] == "shown"
        if size == "full":
            return _original(vault, sha256, shown)
        thumbnail = derived.thumbnail(sha256, 320 if size == "320" else 640)
        if not shown or thumbnail is None:
            return told(CANNOT_BE_SHOWN)
        return Response(thumbnail, 200, _picture_headers(f"{sha256}.{size}.jpg"), "image/jpeg")

    return router


_EXTENSIONS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}


def _announced(request: Request) -> int | Response:
    """The length of the body as announced, or why it is not read. Headers only."""
    if request.headers.get("x-loupebook") != "1":
        return told(NOT_OURS)
    if request.headers.get("content-encoding", "identity") != "identity":
        return told(REENCODED)
    announced = request.headers.get("content-length", "")
    if not (announced.isascii() and announced.isdigit()):
        return told(NO_LENGTH)
    length = int(announced[:20])
    return told(TOO_LARGE) if length > LONGEST_BYTES else length


async def _pieces(request: Request, most: Callable[[], int], idle_s: float) -> AsyncIterator[bytes]:
    """The body in pieces of `most` bytes or a little more; TimeoutError after `idle_s` seconds without a byte."""
    gathered: list[bytes] = []
    held = 0
    more = True
    while more:
        async with asyncio.timeout(idle_s):
            message = await request.receive()
        if message["type"] == "http.disconnect":
            raise ClientDisconnect
        chunk: bytes = message.get("body", b"")
        more = message.get("more_body", False)
        gathered.append(chunk)
        held += len(chunk)
        if held >= most():
            yield b"".join(gathered)
            gathered.clear()
            held = 0
    if held:
        yield b"".join(gathered)


def _later(sha256: Sha256, state: Literal["not_here_yet", "not_looked_at_yet"]) -> Response:
    """A photo of the record that can be shown later: asking for it is no mistake."""
    return JSONResponse({"photo": sha256, "state": state}, 202, OURS)


def _receipt(sha256: Sha256, state: Outcome, length: int, receipt: Receipt) -> Response:
    body = {
        "photo": sha256,
        "state": state,
        "bytes": length,
        "epoch": {"n": receipt.epoch_n, "id": receipt.epoch_id},
    }
    return Response(msgspec.json.encode(body), 201 if state == "stored" else 200, OURS, "application/json")


def _refused(refusal: VaultRefusal) -> Response:
    match refusal:
        case WrongHash():
            return told(ALTERED)
        case WrongLength():
            return told(OTHER_LENGTH)
        case TooLarge():
            return told(TOO_LARGE)
        case NoRoom():
            return told(NO_ROOM)
        case Broken():
            return told(BROKEN)
        case _:
            raise refusal


def _picture_headers(file_name: str) -> dict[str, str]:
    """Never kept by a browser or a proxy, never guessed at, never run as a page."""
    return {
        **OURS,
        "Content-Security-Policy": "default-src 'none'; sandbox",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Content-Disposition": f'inline; filename="{file_name}"',
    }


def _original(vault: Vault, sha256: Sha256, shown: bool) -> Response:
    """The picture, without anything else its file carries; whatever the looking could not open is not given out.

    It has the photo's own bytes and hash wherever a tablet took it (see `strip`).
    """
    try:
        data = read_checked(vault, sha256)
    except Missing:
        return told(NO_PHOTO)
    except Damaged:
        return told(DAMAGED)
    kind, picture = sniff(data), only_the_picture(data) if shown else None
    if kind is None or picture is None:
        return told(CANNOT_BE_SHOWN)
    return Response(picture, 200, _picture_headers(f"{sha256}.{_EXTENSIONS[kind]}"), kind)
