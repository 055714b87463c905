"""A hand-made tablet against a running server: enrolled by code, with a chain and a key of its own, over HTTP."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx
from door_world import LEAD_PIN
from door_world import Tablet as Browser
from loupebook.record.heads import base64url, public_der
from PIL import Image, ImageDraw
from tablet import Tablet as Chain

LEAD = "Moira Keld"
TECHNICIAN, TECHNICIAN_PIN = "Ila Venn", "739482"


def picture(words: str, tone: tuple[int, int, int] = (120, 132, 138)) -> bytes:
    """A JPEG that shows words: a picture the looking can open."""
    image = Image.new("RGB", (960, 720), tone)
    draw = ImageDraw.Draw(image)
    draw.rectangle((180, 120, 780, 600), outline=(30, 30, 30), width=6)
    draw.text((220, 340), words, fill=(10, 10, 10))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=82)
    return out.getvalue()


class SinkTablet:
    """What a tablet does: it writes entries about scopes, sends them with their head, puts photos."""

    def __init__(self, address: str, name: str = "Sink 2") -> None:
        self.browser = Browser(address)
        self.chain = Chain(name, at=datetime.now(UTC) - timedelta(minutes=40))
        self.photos: dict[str, bytes] = {}
        self.sent = 0

    @property
    def public_key(self) -> str:
        return base64url(public_der(self.chain.key))

    def first(self, code: str, place: str = "Decontamination", pin: str = LEAD_PIN) -> str:
        """The first person and the first station; the person's id, signed in."""
        station = {"name": self.chain.name, "place": place, "side": "both"}
        person = {"name": LEAD, "pin": pin}
        body = {"code": code, "person": person, "station": station, "public_key": self.public_key}
        answer = self.browser.enrolled(self.browser.post("/door/first", body))
        return str(answer.json()["person"])

    def enrol(self, code: str) -> SinkTablet:
        """By a lead's code."""
        self.browser.enrolled(self.browser.post("/door/enrol", {"code": code, "public_key": self.public_key}))
        return self

    def invite(self, name: str, place: str = "Decontamination", side: str = "both") -> str:
        """A code for one more station, from the lead who is signed in here."""
        points = ["at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance"]
        told = self.browser.post("/door/invite", {"name": name, "place": place, "side": side, "points": points})
        assert told.status_code == 201, told.text
        return str(told.json()["code"])

    def add_person(
        self, name: str = TECHNICIAN, roles: Sequence[str] = ("technician",), pin: str = TECHNICIAN_PIN
    ) -> str:
        told = self.browser.post("/door/people", {"name": name, "roles": list(roles), "pin": pin})
        assert told.status_code == 201, told.text
        return str(told.json()["person"])

    def photo(self, words: str, shows: str = "part", tone: tuple[int, int, int] = (120, 132, 138)) -> dict[str, object]:
        """A photo as an entry names it; its bytes wait until `put_photos`."""
        data = picture(words, tone)
        sha256 = hashlib.sha256(data).hexdigest()
        self.photos[sha256] = data
        return {
            "sha256": sha256, "bytes": len(data), "type": "image/jpeg", "width": 960, "height": 720, "shows": shows,
        }  # fmt: skip

    def send(self) -> list[dict[str, Any]]:
        """Sends what was written since; the receipts."""
        answer = self.browser.http.post(
            f"/chains/{self.chain.chain}/entries?from={self.sent + 1}",
            content=self.chain.batch(self.sent + 1),
            headers=self.browser.headers() | {"Content-Type": "application/x-ndjson"},
        )
        assert answer.status_code == 200, answer.text
        self.sent = len(self.chain.lines)
        return list(answer.json()["receipts"])

    def put_photos(self) -> None:
        """Sends the bytes of every photo that a sent entry names."""
        for sha256, data in self.photos.items():
            answer = self.put(sha256, data)
            assert answer.status_code in (200, 201), answer.text
        self.photos.clear()

    def put(self, sha256: str, data: bytes) -> httpx.Response:
        return self.browser.http.put(
            f"/photos/{sha256}",
            content=data,
            headers=self.browser.headers() | {"Content-Type": "application/octet-stream"},
        )

    def command(self, kind: str, body: object, about: object | None = None) -> httpx.Response:
        """A lead's command, from the browser of this tablet."""
        return self.browser.post(f"/lead/commands/{kind}", {"about": about or {}, "body": body})

    def lead(self, path: str) -> dict[str, Any]:
        """What the lead's pages are told."""
        answer = self.browser.get(f"/lead/{path}")
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    def close(self) -> None:
        self.browser.http.close()
