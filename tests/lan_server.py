"""A live server that also serves the building; the building is 127.0.0.2, which only this machine reaches."""

from __future__ import annotations

import socket
from pathlib import Path

import httpx
from live_server import LiveServer

NAME = "harrow.local"
ADDRESS = "127.0.0.2"


def free_port() -> int:
    """A port of the building nobody has at the moment."""
    with socket.socket() as sock:
        sock.bind((ADDRESS, 0))
        return int(sock.getsockname()[1])


class LanServer(LiveServer):
    """`loupebook serve --lan` under the name of `NAME`."""

    def __init__(self, data: Path, environ: dict[str, str] | None = None) -> None:
        self.lan_port = free_port()
        given = {
            "LOUPEBOOK_LAN": "yes", "LOUPEBOOK_NAME": NAME, "LOUPEBOOK_ADDRESSES": ADDRESS,
            "LOUPEBOOK_LAN_PORT": str(self.lan_port), "LOUPEBOOK_HELP_PORT": str(free_port()),
        }  # fmt: skip
        super().__init__(data, {**given, **(environ or {})})

    @property
    def https(self) -> str:
        """The address of tablets."""
        return f"https://{NAME}:{self.lan_port}"

    @property
    def by_address(self) -> str:
        """The same server without its name."""
        return f"https://{ADDRESS}:{self.lan_port}"

    @property
    def help_page(self) -> str:
        """The plain page's address, as it was printed."""
        return self.said("Set-up page").split()[-1].rstrip("/")

    def authority(self, folder: Path) -> Path:
        """The authority's file, got as a tablet gets it."""
        path = folder / "loupebook-authority.crt"
        path.write_bytes(httpx.get(self.help_page + "/loupebook-authority.crt", trust_env=False, timeout=60).content)
        return path
