"""Builds and serves the page that does nothing but take photos, behind the product's own policy."""

from __future__ import annotations

import shutil
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from loupebook.headers import HEADERS

ROOT = Path(__file__).resolve().parents[2]


class _Quiet(SimpleHTTPRequestHandler):
    def end_headers(self) -> None:
        for name, value in HEADERS.items():
            self.send_header(name, value)
        super().end_headers()

    def log_message(self, format: str, *args: object) -> None:
        pass


def build(into: Path) -> None:
    """Builds the page with the frontend's own builder; a checkout without it fails."""
    node = shutil.which("node")
    assert node is not None, "node is not on the path"
    frontend = ROOT / "frontend"
    config = ROOT / "tests" / "browser" / "photo_page" / "vite.config.mjs"
    vite = [node, "node_modules/vite/bin/vite.js", "build"]
    command = [*vite, "--config", str(config), "--outDir", str(into), "--emptyOutDir"]
    subprocess.run(command, cwd=frontend, check=True, timeout=120)
    (into / "favicon.ico").touch()  # a browser asks for it, and a 404 would be a line on its console


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """The folder on a free loopback port; its address."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(folder)))
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}"
    server.shutdown()
    thread.join()
    server.server_close()
