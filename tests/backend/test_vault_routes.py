"""The photo routes over real HTTP: what is taken, what is refused in words, what is shown to whom."""

from __future__ import annotations

import hashlib
import io
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
import uvicorn
from fastapi import FastAPI, HTTPException, Request
from loupebook.looking import Looker
from loupebook.vault import Derived, MemoryVault, Sha256, put, sha256_name
from loupebook.vault.routes import NamedPhoto, PhotoDoors, Receipt, photo_routes
from PIL import Image

pytestmark = pytest.mark.sink

OURS = {"X-Loupebook": "1"}


def jpeg(colour: str = "grey") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (800, 600), colour).save(out, "JPEG")
    return out.getvalue()


class Site:
    """The routes on a vault in memory, with everything outside them as plain dicts, served by a real server."""

    def __init__(self, folder: Path) -> None:
        self.vault, self.derived = MemoryVault(), Derived(folder)
        self.named: dict[Sha256, NamedPhoto] = {}
        self.rows: dict[Sha256, int] = {}
        self.hidden: set[tuple[Sha256, str]] = set()
        self.wanted: list[Sha256] = []
        self.listening = socket.create_server(("127.0.0.1", 0))
        app = FastAPI(openapi_url=None)
        app.include_router(photo_routes(self.vault, self.derived, self._doors(), idle_s=0.5))
        self.server = uvicorn.Server(uvicorn.Config(app, log_level="warning", access_log=False, lifespan="off"))
        self._thread = threading.Thread(target=self.server.run, args=([self.listening],))
        self._thread.start()
        self.address: tuple[str, int] = self.listening.getsockname()
        self.http = httpx.Client(base_url=f"http://127.0.0.1:{self.address[1]}", trust_env=False, timeout=30)

    def close(self) -> None:
        self.http.close()
        self.server.should_exit = True
        self._thread.join()
        self.listening.close()

    def empty(self) -> None:
        for sha256 in self.named:
            self.vault.erase(sha256)
            self.derived.erase(sha256)
        self.vault.room = None
        for kept in (self.named, self.rows, self.hidden, self.wanted):
            kept.clear()

    def name(self, data: bytes, length: int | None = None, erased: bool = False) -> Sha256:
        sha256 = sha256_name(hashlib.sha256(data).hexdigest())
        self.named[sha256] = NamedPhoto(sha256, len(data) if length is None else length, erased)
        return sha256

    def put(self, sha256: str, data: bytes, **headers: str) -> httpx.Response:
        return self.http.put(f"/photos/{sha256}", content=data, headers={**OURS, **headers})

    def keep(self, data: bytes) -> Sha256:
        """Named, stored and looked at."""
        sha256 = self.name(data)
        put(self.vault, [data], sha256, len(data))
        looker = Looker(self.vault, self.derived)
        looker.look(sha256)
        looker.close()
        return sha256

    def _doors(self) -> PhotoDoors[str, str]:
        def stored(sha256: Sha256, length: int) -> Receipt:
            assert self.vault.holds(sha256), "a row before its photo was durable"
            self.rows[sha256] = length
            return Receipt(3, "e-3")

        async def station_of(request: Request) -> str:
            if request.headers.get("authorization") == "Station none":
                raise HTTPException(401)
            return "sink-1"

        return PhotoDoors(
            named=lambda sha256: self.named.get(sha256),
            stored=stored,
            received=lambda sha256: sha256 in self.rows,
            look_wanted=self.wanted.append,
            station_of=station_of,
            viewer_of=viewer,
            restricted=lambda sha256, who: (sha256, who) in self.hidden,
        )


def viewer(request: Request) -> str:
    return request.headers.get("x-who", "lead")


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    site = Site(tmp_path_factory.mktemp("derived"))
    yield site
    site.close()


@pytest.fixture
def site(running: Site) -> Site:
    """The running site, with nothing in it."""
    running.empty()
    return running


def code_of(answer: httpx.Response) -> str:
    """The refusal's code, after checking that it is one of ours, in all its words."""
    trouble = answer.json()["trouble"]
    assert answer.headers["x-loupebook"] == "1"
    assert all(trouble[key] for key in ("code", "so", "safe", "next"))
    return str(trouble["code"])


# Putting


def test_a_named_photo_is_stored_and_its_receipt_repeats_hash_length_and_epoch(site: Site) -> None:
    sha256 = site.name(jpeg())
    answer = site.put(sha256, jpeg())
    assert answer.status_code == 201
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["x-loupebook"] == "1"
    assert answer.json() == {
        "photo": sha256, "state": "stored", "bytes": len(jpeg()), "epoch": {"n": 3, "id": "e-3"},
    }  # fmt: skip
    assert site.rows == {sha256: len(jpeg())}
    assert site.wanted == [sha256]


def test_the_same_photo_again_is_already_there_with_the_same_receipt(site: Site) -> None:
    sha256 = site.name(jpeg())
    first, again = site.put(sha256, jpeg()), site.put(sha256, jpeg())
    assert again.status_code == 200
    assert again.json() == {**first.json(), "state": "already"}


def test_a_photo_whose_row_was_lost_gets_it_back_without_its_bytes_being_read(site: Site) -> None:
    sha256 = site.name(jpeg())
    site.put(sha256, jpeg())
    site.rows.clear()
    assert site.put(sha256, jpeg()).json()["state"] == "already"
    assert site.rows == {sha256: len(jpeg())}


def test_one_connection_goes_on_after_a_refusal_and_after_already(site: Site) -> None:
    """A tablet sends over a few kept connections; none may be lost to an answer given before the body was read."""
    big = bytes(5_000_000)
    sha256 = site.name(big)
    with httpx.Client(
        base_url=site.http.base_url, trust_env=False, timeout=30, limits=httpx.Limits(max_connections=1)
    ) as one:
        states = [one.put("/photos/" + "0" * 64, content=big, headers=OURS).status_code]
        states += [one.put(f"/photos/{sha256}", content=big, headers=OURS).status_code for _ in range(3)]
    assert states == [409, 201, 200, 200]


def test_a_photo_in_many_pieces_arrives_whole(site: Site) -> None:
    data = bytes(range(256)) * 4_000
    sha256 = site.name(data)

    def pieces() -> Iterator[bytes]:
        for at in range(0, len(data), 7_000):
            yield data[at : at + 7_000]

    headers = {**OURS, "Content-Length": str(len(data))}
    assert site.http.put(f"/photos/{sha256}", content=pieces(), headers=headers).status_code == 201


def test_a_named_file_that_is_no_photo_is_kept_all_the_same(site: Site) -> None:
    page = b"<!doctype html><script>alert(1)</script>"
    assert site.put(site.name(page), page).status_code == 201


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ("unnamed", 409, "entry_first"),
        ("shorter", 422, "other_length"),
        ("longer", 422, "other_length"),
        ("altered", 422, "altered"),
        ("erased", 410, "erased"),
        ("encoded", 415, "reencoded"),
        ("not ours", 403, "not_ours"),
        ("no hash", 404, "no_photo"),
        ("upper case", 404, "no_photo"),
    ],
)
def test_what_is_not_as_its_entry_says_is_refused_in_words_and_leaves_nothing(
    site: Site, change: str, status: int, code: str
) -> None:
    data = jpeg()
    sha256: str = site.name(data, erased=change == "erased")
    headers = {"Content-Encoding": "gzip"} if change == "encoded" else {}
    match change:
        case "unnamed":
            site.named.clear()
        case "shorter":
            data = data[:-1]
        case "longer":
            data += b"x"
        case "altered":
            data = data[:-1] + bytes([data[-1] ^ 1])
        case "not ours":
            headers = {"X-Loupebook": "0"}
        case "no hash":
            sha256 = "..%2F..%2Fetc%2Fpasswd"
        case "upper case":
            sha256 = sha256.upper()
    answer = site.put(sha256, data, **headers)
    assert answer.status_code == status
    if "etc" not in sha256:
        assert code_of(answer) == code
    assert site.rows == {}
    assert not any(site.vault.exists(named) for named in site.named)


def raw(site: Site, head: str, body: bytes = b"") -> bytes:
    """Send a request head (and some body) by hand; the answer's first line, without having sent the rest."""
    with socket.create_connection(site.address, timeout=30) as connection:
        connection.sendall(head.replace("\n", "\r\n").encode() + b"\r\n\r\n" + body)
        return connection.recv(4096).split(b"\r\n")[0]


@pytest.mark.parametrize(
    ("head", "status"),
    [
        ("Content-Length: 900000", b"409"),
        ("Content-Length: 12000001", b"413"),
        ("Content-Length: 9000000000000000000", b"413"),
        ("Transfer-Encoding: chunked", b"411"),
    ],
)
def test_a_refusal_comes_before_the_body(site: Site, head: str, status: bytes) -> None:
    first_line = raw(site, f"PUT /photos/{'0' * 64} HTTP/1.1\nHost: a\nX-Loupebook: 1\n{head}")
    assert first_line.split()[1] == status


def test_a_body_that_stops_coming_is_given_up_and_leaves_nothing(site: Site) -> None:
    sha256 = site.name(jpeg())
    head = f"PUT /photos/{sha256} HTTP/1.1\nHost: a\nX-Loupebook: 1\nContent-Length: {len(jpeg())}"
    assert raw(site, head, jpeg()[:100]).split()[1] == b"408"
    assert not site.vault.exists(sha256) and site.rows == {}


def test_a_full_vault_says_so_and_that_entries_are_still_taken(site: Site) -> None:
    site.vault.room = 10
    answer = site.put(site.name(jpeg()), jpeg())
    assert answer.status_code == 507 and code_of(answer) == "no_room"


def test_a_stranger_is_stopped_by_the_door(site: Site) -> None:
    assert site.put(site.name(jpeg()), jpeg(), Authorization="Station none").status_code == 401
    assert site.rows == {}


# Getting


@pytest.mark.parametrize(("size", "edge"), [("320", 320), ("640", 640), ("full", 800)])
def test_a_photo_is_served_in_each_size_and_kept_by_nobody(site: Site, size: str, edge: int) -> None:
    sha256 = site.keep(jpeg())
    answer = site.http.get(f"/photos/{sha256}?size={size}")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "image/jpeg"
    assert answer.headers["cache-control"] == "private, no-store"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert max(Image.open(io.BytesIO(answer.content)).size) == edge


def test_a_photo_not_looked_at_yet_says_so_and_is_queued(site: Site) -> None:
    sha256 = site.name(jpeg())
    put(site.vault, [jpeg()], sha256, len(jpeg()))
    answer = site.http.get(f"/photos/{sha256}?size=320")
    assert (answer.status_code, answer.json()["state"]) == (202, "not_looked_at_yet")
    assert site.wanted == [sha256]


def test_a_named_photo_whose_bytes_have_not_come_is_said_to_come_later(site: Site) -> None:
    answer = site.http.get(f"/photos/{site.name(jpeg())}?size=640")
    assert (answer.status_code, answer.json()["state"]) == (202, "not_here_yet")
    assert site.wanted == []


def test_a_photo_that_was_received_and_is_gone_is_never_said_to_come_later(site: Site) -> None:
    sha256 = site.keep(jpeg())
    site.rows[sha256] = len(jpeg())
    site.vault.erase(sha256)
    answer = site.http.get(f"/photos/{sha256}?size=640")
    assert (answer.status_code, code_of(answer)) == (500, "damaged")


@pytest.mark.parametrize(
    "data",
    [
        b"<!doctype html><script>alert(1)</script>",
        b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
        b"\xff\xd8\xff<script>alert(1)</script>",
    ],
)
def test_a_file_that_is_no_photo_is_never_rendered(site: Site, data: bytes) -> None:
    sha256 = site.keep(data)
    assert code_of(site.http.get(f"/photos/{sha256}?size=640")) == "cannot_be_shown"
    full = site.http.get(f"/photos/{sha256}?size=full")
    assert (full.status_code, code_of(full)) == (415, "cannot_be_shown")
    assert site.vault.holds(sha256), "its bytes are kept"


def test_what_is_given_out_carries_only_the_picture_and_the_kept_bytes_carry_all(site: Site) -> None:
    """A hand-made client sends a photo with a place and a name in it: kept as its hash says, given out without."""
    exif = Image.Exif()
    exif[0x010E] = "Tobin Sarr, room 4"
    exif.get_ifd(0x8825)[2] = (52.0, 13.0, 7.0)
    out = io.BytesIO()
    Image.new("RGB", (800, 600), "teal").save(out, "JPEG", exif=exif, comment=b"Tobin Sarr, room 4")
    data = out.getvalue() + b"Tobin Sarr behind the picture"
    sha256 = site.name(data)
    assert site.put(sha256, data).status_code == 201
    looker = Looker(site.vault, site.derived)
    looker.look(sha256)
    looker.close()
    for size in ("320", "640", "full"):
        given = site.http.get(f"/photos/{sha256}?size={size}")
        assert given.status_code == 200
        assert b"Tobin" not in given.content and b"Exif" not in given.content
        assert dict(Image.open(io.BytesIO(given.content)).getexif()) == {}
    with site.vault.open(sha256) as kept:
        assert kept.read() == data


def test_a_photo_that_carries_nothing_is_given_out_with_its_own_hash(site: Site) -> None:
    given = site.http.get(f"/photos/{site.keep(jpeg('teal'))}?size=full")
    assert hashlib.sha256(given.content).hexdigest() == site.name(jpeg("teal"))


def test_a_restricted_photo_is_hidden_from_those_it_is_hidden_from(site: Site) -> None:
    sha256 = site.keep(jpeg())
    site.hidden.add((sha256, "technician"))
    hidden = site.http.get(f"/photos/{sha256}?size=320", headers={"x-who": "technician"})
    assert hidden.status_code == 403 and code_of(hidden) == "restricted"
    assert site.http.get(f"/photos/{sha256}?size=320").status_code == 200


def test_an_erased_photo_says_who_wanted_it_so_and_an_unknown_one_is_unknown(site: Site) -> None:
    erased = site.http.get(f"/photos/{site.name(jpeg(), erased=True)}")
    assert (erased.status_code, code_of(erased)) == (410, "erased")
    unknown = site.http.get(f"/photos/{'0' * 64}")
    assert (unknown.status_code, code_of(unknown)) == (404, "no_photo")


def test_a_photo_that_rotted_is_said_to_be_damaged_and_not_shown(site: Site) -> None:
    sha256 = site.keep(jpeg())
    site.vault.alter(sha256, jpeg("red"))
    answer = site.http.get(f"/photos/{sha256}?size=full")
    assert (answer.status_code, code_of(answer)) == (500, "damaged")


def test_no_word_of_a_refusal_is_one_never_said_on_screen() -> None:
    from loupebook.vault import troubles

    never = {"error", "invalid", "sync", "upload", "cache", "user", "asset", "workflow", "please", "oops"}
    said = [t for t in vars(troubles).values() if isinstance(t, troubles.Trouble)]
    assert len(said) >= 15
    for trouble in said:
        words = f"{trouble.so} {trouble.safe} {trouble.next}".lower().replace(".", " ").split()
        assert never.isdisjoint(words)
