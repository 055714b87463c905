"""The child process: photos in on one pipe, looks out on another, nothing else.

In: a photo a frame. Out: a frame of JSON `{"look": ..., "thumbs": [320, 640]}`, then each thumbnail, a frame.
The very first frame out is `{"ready": true, "zbar": true|false}`.
"""

from __future__ import annotations

import io
import json
import os
import sys
from collections.abc import Callable
from typing import Final

import numpy as np
from PIL import Image

from loupebook.looking.codes import HAS_ZBAR, read_zbar, read_zxing
from loupebook.looking.frames import read_frame, write_frame
from loupebook.looking.look import Code, Look
from loupebook.looking.opened import CannotOpen, Opened
from loupebook.looking.sharpness import MEASURED_EDGE, measure
from loupebook.vault import THUMB_EDGES, ThumbEdge

MEMORY_BYTES: Final = 1_500_000_000
"""Address space of the child: 50 million pixels in RGB twice, and the libraries."""

CPU_S: Final = 30
"""Processor seconds a photo may cost; a tablet's photo costs 0.2 on a small machine."""

THUMB_QUALITY: Final = 82

Thumbs = dict[ThumbEdge, bytes]


def look_at(data: bytes) -> tuple[Look, Thumbs]:
    """Open one photo and say everything that is to be known of it."""
    try:
        return _look_at(Opened(data))
    except CannotOpen as cannot:
        return Look("cannot_be_shown", cannot.reason), {}
    except MemoryError:
        return Look("cannot_be_shown", "too_much_memory"), {}


def thumbs_of(photo: Opened) -> Thumbs:
    """Both thumbnails from one decode; also the whole cost of the 320 one, which is made from the 640 one."""
    large = photo.upright(640, Image.Resampling.LANCZOS)
    small = large.copy()
    small.thumbnail((320, 320), Image.Resampling.LANCZOS)
    return {edge: _jpeg(large if edge == 640 else small) for edge in THUMB_EDGES}


def _look_at(photo: Opened) -> tuple[Look, Thumbs]:
    thumbs = thumbs_of(photo)
    measured = measure(np.asarray(photo.upright(MEASURED_EDGE, Image.Resampling.BOX).convert("L")))
    look = Look(
        state="shown",
        type=photo.type,
        width=photo.size[0],
        height=photo.size[1],
        sharpness_permille=measured.sharpness,
        mean=measured.mean,
        codes=_codes(photo),
    )
    return look, thumbs


def _codes(photo: Opened) -> tuple[Code, ...]:
    """Half and full size: a large label in the photo must not keep the small code beside it from being looked for.

    zbar where neither gave anything.
    """
    longest = max(photo.size)
    half = photo.grey(longest // 2)
    return tuple(dict.fromkeys((*read_zxing(half), *read_zxing(photo.grey(longest))))) or read_zbar(half)


def _jpeg(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=THUMB_QUALITY)
    return out.getvalue()


def serve(look: Callable[[bytes], tuple[Look, Thumbs]] = look_at) -> None:
    """Answer photos from standard input until it ends. `look` is the seam tests put a stuck decoder into."""
    photos, answers = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)  # what a library prints is no answer
    os.dup2(nowhere, 2)  # and where the server's log is a file, a line more would break the limit on files
    limit_whole_process()
    write_frame(answers, json.dumps({"ready": True, "zbar": HAS_ZBAR}).encode())
    answers.flush()
    while (data := read_frame(photos)) is not None:
        limit_cpu(CPU_S)
        found, thumbs = look(data)
        head = {"look": found.to_json(), "thumbs": list(thumbs)}
        write_frame(answers, json.dumps(head).encode())
        for thumb in thumbs.values():
            write_frame(answers, thumb)
        answers.flush()


def limit_whole_process() -> None:
    """No file may be written, no core left, memory bounded. Windows has no such limits; the wall clock still holds."""
    if sys.platform == "win32":
        return
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    os.nice(10)  # people at the sink come first


def limit_cpu(seconds: int) -> None:
    """From now on, this many processor seconds, then the kernel ends the process."""
    if sys.platform == "win32":
        return
    import resource

    used = sum(resource.getrusage(resource.RUSAGE_SELF)[:2])
    _, hard = resource.getrlimit(resource.RLIMIT_CPU)
    resource.setrlimit(resource.RLIMIT_CPU, (int(used) + seconds + 1, hard))


if __name__ == "__main__":
    serve()
