"""Builds the gallery of the look's parts and serves it under the product's own headers."""

from __future__ import annotations

import threading
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from loupebook.headers import HEADERS

CONFIG = "../tests/browser/pages/gallery/build.mjs"


class Handler(SimpleHTTPRequestHandler):
    """Files with the headers that every reply of the product has."""

    def end_headers(self) -> None:
        for name, value in HEADERS.items():
            self.send_header(name, value)
        super().end_headers()

    def log_message(self, format: str, *args: object) -> None:
        """Says nothing: the browser's own console is what the tests look at."""


class GalleryServer:
    """A built gallery on a free loopback port."""

    def __init__(self, folder: Path) -> None:
        self._http = ThreadingHTTPServer(("127.0.0.1", 0), partial(Handler, directory=str(folder)))
        self._thread = threading.Thread(target=self._http.serve_forever, daemon=True)
        self._thread.start()

    def page(self, scene: str, **asked: str) -> str:
        """The address of a scene: theme=bench|room, side=left|right, dir=ltr|rtl, words=long."""
        more = "".join(f"&{name}={value}" for name, value in asked.items())
        return f"http://127.0.0.1:{self._http.server_address[1]}/index.html?scene={scene}{more}"

    def close(self) -> None:
        """Stops serving."""
        self._http.shutdown()
        self._http.server_close()
        self._thread.join()
