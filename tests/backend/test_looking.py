"""Looking opens what can be opened, says why it cannot open the rest, and no photo harms the parent."""

from __future__ import annotations

import hashlib
import io
import os
import signal
import struct
import subprocess
import sys
import threading
import time
import zlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from loupebook.looking import Code, Look, Looker, LookerCannotStart, LookingQueue
from loupebook.looking.codes import HAS_ZBAR, read_zbar, read_zxing
from loupebook.looking.look import look_from_json
from loupebook.looking.queue import PATIENCE_S, QUIET_S
from loupebook.vault import Derived, MemoryVault, Missing, Sha256, put, sha256_name
from PIL import Image, ImageDraw, ImageFilter

pytestmark = pytest.mark.sink

GS = "\x1d"


def name_of(data: bytes) -> Sha256:
    return sha256_name(hashlib.sha256(data).hexdigest())


class Bench:
    """A vault in memory, a derived tree and a looker on them."""

    def __init__(self, folder: Path, **options: object) -> None:
        self.vault = MemoryVault()
        self.derived = Derived(folder / "derived")
        self.looker = Looker(self.vault, self.derived, **options)  # type: ignore[arg-type]

    def add(self, data: bytes) -> Sha256:
        put(self.vault, [data], name_of(data), len(data))
        return name_of(data)

    def look(self, data: bytes) -> Look:
        return self.looker.look(self.add(data))


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """One warm child for all; photos are told apart by their hash, so no test sees another's."""
    bench = Bench(tmp_path_factory.mktemp("bench"))
    yield bench
    bench.looker.close()


def scene(size: tuple[int, int] = (1280, 960)) -> Image.Image:
    """A picture with edges, brighter on the left, so that a turn shows."""
    image = Image.new("RGB", size, (40, 40, 40))
    draw = ImageDraw.Draw(image)
    draw.rectangle((0, 0, size[0] // 2, size[1]), fill=(200, 200, 200))
    for x in range(0, size[0], 37):
        draw.line((x, 0, size[0] - x, size[1]), fill=(90, 120, 60), width=3)
    return image


def coded(image: Image.Image, kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def zint(folder: Path, *options: str) -> Image.Image:
    """A code by zint, an encoder independent of both readers, with its quiet zone and a white border."""
    made = folder / "code.png"
    subprocess.run(["zint", "--quietzones", "-o", str(made), *options], check=True, timeout=60)
    code = Image.open(made).convert("RGB")
    framed = Image.new("RGB", (code.width + 60, code.height + 60), "white")
    framed.paste(code, (30, 30))
    return framed


def beside(code: Image.Image, size: tuple[int, int] = (2560, 1920)) -> bytes:
    photo = scene(size)
    photo.paste(code, (size[0] // 2, size[1] // 3))
    return coded(photo, "JPEG", quality=90)


# What can be opened


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_of_each_type_is_shown_with_both_thumbnails(bench: Bench, kind: str) -> None:
    data = coded(scene(), kind)
    look = bench.look(data)
    assert (look.state, look.width, look.height) == ("shown", 1280, 960)
    assert look.type == f"image/{kind.lower()}"
    for edge, size in ((320, (320, 240)), (640, (640, 480))):
        thumb = bench.derived.thumbnail(name_of(data), edge)  # type: ignore[arg-type]
        assert thumb is not None
        assert Image.open(io.BytesIO(thumb)).size == size


def test_a_small_photo_is_not_enlarged(bench: Bench) -> None:
    data = coded(scene((200, 100)), "JPEG")
    bench.look(data)
    thumb = bench.derived.thumbnail(name_of(data), 640)
    assert thumb is not None and Image.open(io.BytesIO(thumb)).size == (200, 100)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "WEBP"])
def test_thumbnails_are_upright_as_another_implementation_turns_them(bench: Bench, orientation: int, kind: str) -> None:
    from PIL import ImageOps

    exif = Image.Exif()
    exif[0x0112] = orientation
    data = coded(scene(), kind, exif=exif)
    look = bench.look(data)
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(data))).convert("L")
    assert (look.width, look.height) == upright.size
    thumb = bench.derived.thumbnail(name_of(data), 320)
    assert thumb is not None
    shown = np.asarray(Image.open(io.BytesIO(thumb)).convert("L"), dtype=float)
    expected = np.asarray(upright.resize((shown.shape[1], shown.shape[0])), dtype=float)
    assert np.abs(shown - expected).mean() < 8


def test_thumbnails_carry_no_metadata(bench: Bench) -> None:
    exif = Image.Exif()
    exif[0x010E] = "Tobin Sarr, room 4"
    data = coded(scene(), "JPEG", exif=exif, comment=b"Tobin Sarr, room 4")
    bench.look(data)
    thumb = bench.derived.thumbnail(name_of(data), 640)
    assert thumb is not None
    assert b"Tobin" in data and b"Tobin" not in thumb
    assert b"Exif" not in thumb


def test_a_kept_look_is_given_again_without_a_child(bench: Bench) -> None:
    data = coded(scene(), "JPEG")
    first = bench.look(data)
    bench.looker.close()
    assert bench.looker.look(name_of(data)) == first
    assert bench.looker.child_pid is None


def test_a_deleted_derived_tree_is_made_again(bench: Bench) -> None:
    data = coded(scene(), "JPEG")
    first = bench.look(data)
    bench.derived.erase(name_of(data))
    assert bench.looker.look(name_of(data)) == first
    assert bench.derived.thumbnail(name_of(data), 320) is not None


def test_a_look_survives_its_json() -> None:
    code = Code(f"0109506000134352{GS}", "DataMatrix", "0a", "]d2")
    look = Look("shown", None, "image/png", 3, 2, 17, 9, (code,))
    assert look_from_json(look.to_json()) == look


# Codes. The DI is the sample of the GS1 General Specifications (09506000134352).


def test_a_gs1_datamatrix_is_read_raw_with_its_identifier(bench: Bench, tmp_path: Path) -> None:
    code = zint(
        tmp_path, "-b", "DATAMATRIX", "--gs1", "--scale", "4",
        "-d", "[01]09506000134352[17]301231[10]AB-123[21]SN0042",
    )  # fmt: skip
    (read,) = bench.look(beside(code)).codes
    assert read.text == f"01095060001343521730123110AB-123{GS}21SN0042"
    assert (read.symbology, read.identifier) == ("DataMatrix", "]d2")
    assert bytes.fromhex(read.raw).decode() == read.text


@pytest.mark.parametrize(
    ("barcode", "symbology"),
    [("QRCODE", "QRCode"), ("CODE128", "Code128"), ("CODE39", "Code39")],
)
def test_each_named_symbology_is_read(bench: Bench, tmp_path: Path, barcode: str, symbology: str) -> None:
    """SN0042 has six characters: in Code 39 that could also be taken for a pharmacy number, and must not."""
    code = zint(tmp_path, "-b", barcode, "--scale", "3", "-d", "SN0042")
    (read,) = bench.look(beside(code)).codes
    assert (read.text, read.symbology) == ("SN0042", symbology)


def test_a_small_code_is_read_at_full_size_when_half_gives_nothing(bench: Bench, tmp_path: Path) -> None:
    photo = beside(zint(tmp_path, "-b", "DATAMATRIX", "--scale", "1", "-d", "SN0042"))
    half = np.asarray(Image.open(io.BytesIO(photo)).convert("L").reduce(2))
    assert read_zxing(half) == ()
    (read,) = bench.look(photo).codes
    assert read.text == "SN0042"


def test_two_codes_in_one_photo_are_both_read(bench: Bench, tmp_path: Path) -> None:
    photo = scene((2560, 1920))
    photo.paste(zint(tmp_path, "-b", "DATAMATRIX", "--scale", "5", "-d", "AAA"), (100, 100))
    photo.paste(zint(tmp_path, "-b", "QRCODE", "--scale", "5", "-d", "BBB"), (1500, 900))
    found = bench.look(coded(photo, "PNG")).codes
    assert {code.text for code in found} == {"AAA", "BBB"}


def test_a_large_label_does_not_hide_the_small_code_beside_it(bench: Bench, tmp_path: Path) -> None:
    """The tag's QR code is read at half size already; the plate's Data Matrix only at full size."""
    photo = scene((2560, 1920))
    photo.paste(zint(tmp_path, "-b", "QRCODE", "--scale", "5", "-d", "C-14"), (100, 100))
    photo.paste(zint(tmp_path, "-b", "DATAMATRIX", "--scale", "1", "-d", "SN0042"), (1500, 1100))
    assert {code.text for code in bench.look(coded(photo, "JPEG", quality=92)).codes} == {"C-14", "SN0042"}


def test_a_photo_without_a_code_gives_none(bench: Bench) -> None:
    assert bench.look(coded(scene(), "JPEG")).codes == ()


@pytest.mark.skipif(not HAS_ZBAR, reason="libzbar0 is not installed here")
def test_zbar_gives_plain_ascii_only(tmp_path: Path) -> None:
    plain = np.asarray(zint(tmp_path, "-b", "QRCODE", "--scale", "4", "-d", "SN0042").convert("L"))
    accents = np.asarray(zint(tmp_path, "-b", "QRCODE", "--scale", "4", "-d", "äé").convert("L"))
    assert [code.text for code in read_zbar(plain)] == ["SN0042"]
    assert read_zbar(accents) == ()
    assert [code.text for code in read_zxing(accents)] == ["äé"]


# Sharpness and brightness


def test_blur_lowers_sharpness_and_darkness_lowers_the_mean(bench: Bench) -> None:
    looks = [
        bench.look(coded(scene().filter(ImageFilter.GaussianBlur(radius)), "JPEG", quality=92))
        for radius in (0, 1, 2, 4)
    ]
    sharpness = [look.sharpness_permille for look in looks]
    assert sharpness == sorted(sharpness, reverse=True) and sharpness[0] > 2 * sharpness[-1]
    dark = bench.look(coded(scene().point(lambda value: value // 4), "JPEG"))
    assert dark.mean < looks[0].mean // 3


# Hostile files


def png_of(width: int, height: int) -> bytes:
    """A PNG whose header announces any size, with a little valid data behind it."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        crc = zlib.crc32(kind + body)
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", crc)

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    rows = zlib.compress(b"\0" * 1_000_000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def webp_lossless_of(width: int, height: int) -> bytes:
    """A WebP header of any size up to 16384 (RFC 9649, 3.4) with no picture behind it."""
    bits = (width - 1) | (height - 1) << 14
    body = b"\x2f" + struct.pack("<I", bits) + b"\0" * 32
    chunk = b"VP8L" + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)
    return b"RIFF" + struct.pack("<I", 4 + len(chunk)) + b"WEBP" + chunk


JPEG = coded(scene(), "JPEG")

HOSTILE = {
    "PNG of 50,000 x 50,000": (png_of(50_000, 50_000), "too_many_pixels"),
    "PNG just over the limit": (png_of(10_000, 5_001), "too_many_pixels"),
    "PNG at the limit, mostly missing": (png_of(10_000, 5_000), "broken_file"),
    "WebP of 16,384 x 16,384": (webp_lossless_of(16_384, 16_384), "too_many_pixels"),
    "WebP with no picture": (webp_lossless_of(64, 64), "broken_file"),
    "JPEG cut in half": (JPEG[: len(JPEG) // 2], "broken_file"),
    "JPEG header alone": (JPEG[:4], "broken_file"),
    "PNG signature alone": (b"\x89PNG\r\n\x1a\n", "broken_file"),
    "nothing": (b"", "not_a_photo"),
    "GIF": (coded(scene((40, 30)), "GIF"), "not_a_photo"),
    "TIFF": (coded(scene((40, 30)), "TIFF"), "not_a_photo"),
    "SVG with a script": (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "not_a_photo"),
    "HTML": (b"<!doctype html><script>alert(1)</script>", "not_a_photo"),
    "EPS behind a JPEG mark": (b"\xff\xd8\xff%!PS-Adobe-3.0 EPSF\n%%BoundingBox: 0 0 9 9\n", "broken_file"),
    "ZIP behind a PNG mark": (b"\x89PNG\r\n\x1a\nPK\x03\x04" + b"\0" * 400, "broken_file"),
}  # fmt: skip


def animated(kind: str) -> bytes:
    return coded(scene((90, 60)), kind, save_all=True, append_images=[scene((90, 60)).rotate(9)], duration=40)


def sixteen_bit() -> bytes:
    values = np.linspace(0, 65535, 90 * 60).reshape(60, 90).astype(np.uint16)
    return coded(Image.fromarray(values), "PNG")


UNUSUAL = {
    "CMYK JPEG": coded(scene((90, 60)).convert("CMYK"), "JPEG"),
    "16-bit PNG": sixteen_bit(),
    "JPEG with a profile": coded(scene((90, 60)), "JPEG", icc_profile=b"no real profile" * 9),
    "palette PNG with transparency": coded(scene((90, 60)).convert("P"), "PNG", transparency=0),
    "animated PNG": animated("PNG"),
    "animated WebP": animated("WEBP"),
    "JPEG with a ZIP behind it": coded(scene((90, 60)), "JPEG") + b"PK\x03\x04" + b"\0" * 400,
}


@pytest.mark.parametrize("name", UNUSUAL)
def test_an_unusual_picture_is_shown_as_its_first_picture_without_anything_else(bench: Bench, name: str) -> None:
    data = UNUSUAL[name]
    look = bench.look(data)
    assert (look.state, look.width, look.height) == ("shown", 90, 60)
    thumb = bench.derived.thumbnail(name_of(data), 320)
    assert thumb is not None
    shown = Image.open(io.BytesIO(thumb))
    assert (shown.size, shown.mode, getattr(shown, "n_frames", 1)) == ((90, 60), "RGB", 1)
    assert "icc_profile" not in shown.info


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_marked_kept_and_leaves_the_child_warm(bench: Bench, name: str) -> None:
    data, reason = HOSTILE[name]
    bench.look(JPEG)
    warm = bench.looker.child_pid
    look = bench.look(data)
    assert (look.state, look.reason) == ("cannot_be_shown", reason)
    assert bench.vault.holds(name_of(data))
    assert bench.derived.thumbnail(name_of(data), 640) is None
    assert bench.looker.child_pid == warm


def test_a_photo_that_is_also_a_page_is_shown_as_its_picture_only(bench: Bench) -> None:
    polyglot = JPEG + b"<script>alert(1)</script>"
    assert bench.look(polyglot).state == "shown"
    thumb = bench.derived.thumbnail(name_of(polyglot), 640)
    assert thumb is not None and b"<script>" not in thumb


def test_bytes_that_rotted_in_the_vault_are_marked_damaged(bench: Bench) -> None:
    sha256 = bench.add(JPEG + b"rot")
    bench.vault.alter(sha256, JPEG + b"rotten")
    assert bench.looker.look(sha256) == Look("cannot_be_shown", "damaged")


def test_a_photo_that_is_not_there_is_missing(bench: Bench) -> None:
    with pytest.raises(Missing):
        bench.looker.look(name_of(b"never"))


# Made once


def test_each_photo_is_opened_once_however_often_it_is_asked_for(tmp_path: Path) -> None:
    """The child's answers are counted by the parent's own pipe: a second look reads what was kept."""
    bench = Bench(tmp_path)
    asked: list[bytes] = []
    inside = bench.looker._ask
    bench.looker._ask = lambda data: (asked.append(data), inside(data))[1]  # type: ignore[method-assign]
    sha256 = bench.add(JPEG)
    waiting = LookingQueue(bench.looker, lambda *_: None)
    for _ in range(3):
        waiting.offer(sha256)
        assert waiting.settled(60)
        bench.looker.look(sha256)
    waiting.close()
    assert asked == [JPEG]
    again = Bench(tmp_path)  # as after a restart: what was made lies there
    again.add(JPEG)
    assert again.looker.look(sha256).state == "shown" and again.looker.child_pid is None


def test_a_child_killed_half_way_is_replaced_and_the_queue_goes_on(tmp_path: Path) -> None:
    """kill -9 while it looks, as the kernel does when memory is short: the same photo is looked at by the next one."""
    flag = tmp_path / "looking"
    body = (
        "import os, pathlib, signal, sys\n"
        "def look(data):\n"
        " flag = pathlib.Path(sys.argv[1])\n"
        " if not flag.exists(): os.close(os.open(flag, os.O_CREAT)); signal.pause()\n"
        " return child.look_at(data)"
    )
    code = f"from loupebook.looking import child\n{body}\nchild.serve(look)"
    bench = Bench(tmp_path, command=(sys.executable, "-c", code, str(flag)))
    seen: list[tuple[Sha256, str]] = []
    waiting = LookingQueue(bench.looker, lambda sha256, look: seen.append((sha256, look.state)))
    first, second = bench.add(JPEG), bench.add(coded(scene((90, 60)), "PNG"))
    waiting.catch_up([first, second])
    while not flag.exists():
        pass
    assert bench.looker.child_pid is not None
    os.kill(bench.looker.child_pid, signal.SIGKILL)
    assert waiting.settled(60)
    waiting.close()
    assert seen == [(first, "shown"), (second, "shown")]


# A child that is stuck, dies or lies

CHILDREN = {
    "stuck": "import signal\ndef look(data): signal.pause()",
    "spinning": "child.CPU_S = 0\ndef look(data):\n while True: pass",
    "dying": "import os\ndef look(data): os.kill(os.getpid(), 11)",
    "greedy": "def look(data): return child.look_at(bytes(2_000_000_000))",
    "writing": "import sys\ndef look(data):\n open(sys.argv[1], 'wb').write(data)",
    "printing": "def look(data):\n print('noise', flush=True)\n return child.look_at(data)",
    "lying": (
        "import json\nfrom loupebook.looking.look import Look\n"
        "class Lie(Look):\n def to_json(self): return {'state': 'shown', 'codes': 7}\n"
        "def look(data): return Lie('shown'), {}"
    ),
}


def command_of(child: str, *arguments: str) -> tuple[str, ...]:
    body = CHILDREN[child]
    return (
        sys.executable, "-c",
        f"from loupebook.looking import child\n{body}\nchild.serve(look)",
        *arguments,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("child", "reason"),
    [
        ("stuck", "took_too_long"),
        ("spinning", "decoder_stopped"),
        ("dying", "decoder_stopped"),
        ("greedy", "decoder_stopped"),
        ("lying", "decoder_stopped"),
    ],
)
def test_a_child_gone_wrong_marks_the_photo_and_the_next_one_starts_anew(
    tmp_path: Path, child: str, reason: str
) -> None:
    wall_s = 0.3 if child == "stuck" else 30.0
    bench = Bench(tmp_path, command=command_of(child), wall_s=wall_s)
    assert bench.look(JPEG) == Look("cannot_be_shown", reason)  # type: ignore[arg-type]
    assert bench.looker.child_pid is None
    assert bench.vault.holds(name_of(JPEG))


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no limit on files a process writes")
def test_a_child_taken_over_by_a_photo_writes_no_byte_to_any_file(tmp_path: Path) -> None:
    target = tmp_path / "written"
    bench = Bench(tmp_path, command=command_of("writing", str(target)))
    assert bench.look(JPEG).reason == "decoder_stopped"
    assert target.stat().st_size == 0


def test_what_a_library_prints_is_not_taken_for_an_answer(tmp_path: Path) -> None:
    bench = Bench(tmp_path, command=command_of("printing"))
    assert bench.look(JPEG).state == "shown"
    bench.looker.close()


def test_a_warm_child_killed_from_outside_does_not_blame_the_photo(bench: Bench) -> None:
    bench.look(JPEG)
    assert bench.looker.child_pid is not None
    os.kill(bench.looker.child_pid, signal.SIGKILL)
    assert bench.look(coded(scene((500, 400)), "JPEG")).state == "shown"


def test_a_child_that_cannot_start_is_said_not_blamed_on_the_photo(tmp_path: Path) -> None:
    bench = Bench(tmp_path, command=(sys.executable, "-c", "raise SystemExit(3)"))
    sha256 = bench.add(JPEG)
    with pytest.raises(LookerCannotStart):
        bench.looker.look(sha256)
    assert bench.derived.look(sha256) is None


# The queue


def test_the_queue_looks_at_each_photo_and_tells(bench: Bench) -> None:
    seen: dict[Sha256, Look] = {}
    waiting = LookingQueue(bench.looker, seen.__setitem__)
    good, bad = bench.add(JPEG), bench.add(b"<html>")
    waiting.offer(good)
    waiting.catch_up([bad, good])
    assert waiting.settled(60)
    waiting.close()
    assert seen[good].state == "shown"
    assert seen[bad].reason == "not_a_photo"


def test_the_queue_outlives_a_caller_that_raises_and_a_photo_that_is_gone(bench: Bench) -> None:
    seen: list[Sha256] = []

    def once_bad(sha256: Sha256, look: Look) -> None:
        seen.append(sha256)
        if len(seen) == 1:
            raise RuntimeError("the row was not written")

    waiting = LookingQueue(bench.looker, once_bad)
    gone, first, second = name_of(b"never"), bench.add(JPEG), bench.add(b"<html>")
    waiting.catch_up([gone, first, second])
    assert waiting.settled(60)
    waiting.catch_up([first])  # as after a restart: its row is missing, its look is not
    assert waiting.settled(60)
    waiting.close()
    assert seen == [first, second, first]


def test_photos_that_come_in_go_before_looks(bench: Bench) -> None:
    """The processors are a sender's first; but a look does not wait for ever, however long others send."""
    seen: list[float] = []
    waiting = LookingQueue(bench.looker, lambda *_: seen.append(time.monotonic()))
    waiting.wait_for_quiet()
    moved = time.monotonic()
    waiting.offer(bench.add(b"<html>one"))
    assert waiting.settled(60)
    assert seen[0] - moved >= QUIET_S * 0.99

    waiting._moved_s = float("inf")  # as if photos never stopped coming
    begun = time.monotonic()
    waiting.offer(bench.add(b"<html>two"))
    assert waiting.settled(60)
    waiting.close()
    assert seen[1] - begun >= PATIENCE_S * 0.99


def test_a_photo_that_waits_is_not_queued_twice(bench: Bench) -> None:
    seen: list[Sha256] = []
    inside, go = threading.Event(), threading.Event()

    def hold(sha256: Sha256, look: Look) -> None:
        seen.append(sha256)
        inside.set()
        assert go.wait(60)

    waiting = LookingQueue(bench.looker, hold)
    first, second = bench.add(JPEG), bench.add(b"<html>")
    waiting.offer(first)
    assert inside.wait(60)
    waiting.catch_up([second, second, first])
    go.set()
    assert waiting.settled(60)
    waiting.close()
    assert seen == [first, second]
