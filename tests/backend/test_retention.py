"""What is kept, and what is not given out: no limit deletes anything, and a hidden photo leaves every way out of here.

How long records are kept differs by law and place (21 CFR 803.18: 2 years for a report's file; 42 CFR 482.24: 5 years,
from memory), so the limit is the facility's own. That a hidden photo stays provable: its entry names its SHA-256
(FIPS 180-4), which `sha256sum` of the bytes would give.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from door_world import code_of
from loupebook.keeping import export_verb
from loupebook.record.verify import main as verify
from loupebook.settings import Settings
from story import C14, route
from whole_server import WholeServer

pytestmark = pytest.mark.shift


@pytest.fixture
def server(tmp_path: Path) -> Iterator[WholeServer]:
    server = WholeServer(tmp_path)
    described = {"scope_kind": "colonoscope", "serial": "2741906", "di": "51022222233336", "tag": "C-14"}
    assert server.desk.command("scope.described", described, {"scope": C14}).status_code == 201
    yield server
    server.close()


def test_nothing_is_limited_until_a_lead_says_so_and_each_word_keeps_its_owner(server: WholeServer) -> None:
    desk = server.desk
    assert desk.lead("retention")["years"] is None and desk.lead("retention")["words"] == []
    assert code_of(desk.command("retention.set", {"years": 7, "reason": "  "})) == "bad_body"
    assert code_of(desk.command("retention.set", {"years": 0, "reason": "x"})) == "bad_body"
    assert desk.command("retention.set", {"years": 7, "reason": "state law"}).status_code == 201
    assert desk.command("retention.set", {"reason": "the insurer wants all of it"}).status_code == 201
    told = desk.lead("retention")
    assert told["years"] is None and told["past"] is False
    assert [(word["years"], word["reason"], word["person"]) for word in told["words"]] == [
        (None, "the insurer wants all of it", server.lead), (7, "state law", server.lead),
    ]  # fmt: skip


def test_a_limit_deletes_nothing(server: WholeServer) -> None:
    chain = server.desk.chain
    chain.begin("before_use")
    chain.serial()
    server.desk.send()
    before = server.here.log.position
    assert server.desk.command("retention.set", {"years": 1, "reason": "short"}).status_code == 201
    assert server.here.log.position == before + 1
    server.again()
    assert server.here.log.position == before + 1


def test_a_hidden_photo_leaves_every_way_out_and_stays_named_by_its_hash(server: WholeServer, tmp_path: Path) -> None:
    desk = server.desk
    chain = desk.chain
    shift = next(iter(desk.lead("today")["shifts"]))
    begun = chain.begin("after_cleaning", shift=shift)
    chain.serial()
    picture = desk.photo("a face in the lens", "finding")
    sha256 = str(picture["sha256"])
    data = desk.photos[sha256]
    chain.find("tube_2", "peeling_coat", [picture], since="new")
    parts, channels = route("after_cleaning")
    left = [{"part": each, "reason": "held_at_once"} for each in [*parts, *channels] if each != "tube_2"]
    chain.conclude("nothing", "repair", left=left)
    desk.send()
    desk.put_photos()
    server.settled()
    asked = chain.write("repair.asked", {"words": "it peels", "inspections": [begun]}, inspection=False)
    desk.send()
    hold = desk.lead("today")["holds"][-1]["hold"]

    ways = [
        f"/lead/shift/sheet?name={shift}&photos=true", f"/lead/shift/sheet.csv?name={shift}",
        f"/lead/history/part?key={C14}&part=tube_2", f"/lead/history/sheet?key={C14}",
        f"/lead/history/sheet.csv?key={C14}", f"/repairs/{asked}/packet", f"/lead/holds/{hold}/summary",
        "/cards?since=0&epoch=",
    ]  # fmt: skip
    shown = {way for way in ways if sha256 in desk.browser.get(way).text}
    assert shown >= {ways[0], ways[2], ways[5], ways[6], ways[7]}, "the photo is given out before it is hidden"
    assert desk.browser.get(f"/photos/{sha256}?size=full").status_code == 200

    assert desk.command("photo.hidden", {"photo": sha256}, {"scope": C14}).status_code == 201
    for way in ways:
        answer = desk.browser.get(way)
        assert answer.status_code == 200
        text = answer.text
        if way.startswith("/cards"):  # tablets are told which one to hide, and have it nowhere else
            told = answer.json()
            assert [each["photo"] for each in told["hidden"]] == [sha256]
            text = json.dumps({name: value for name, value in told.items() if name != "hidden"})
        assert sha256 not in text, way
    for pdf in (f"/lead/shift/sheet.pdf?name={shift}&photos=true", f"/repairs/{asked}/packet.pdf"):
        made = desk.browser.get(pdf)
        assert made.status_code == 200 and b"/DCTDecode" not in made.content, "no JPEG is in it"
    book = zipfile.ZipFile(BytesIO(desk.browser.get(f"/lead/shift/sheet.xlsx?name={shift}").content))
    assert not any(sha256.encode() in book.read(name) for name in book.namelist())
    for size in ("320", "640", "full"):
        assert desk.browser.get(f"/photos/{sha256}?size={size}").status_code == 403

    out = tmp_path / "export"
    server.close()
    assert export_verb(Settings(data=server.data, dist=tmp_path / "none"), out) == 0
    assert not (out / "photos" / sha256).exists()
    missing = [json.loads(row) for row in (out / "missing.jsonl").read_text("utf-8").splitlines()]
    assert {"sha256": sha256, "why": "hidden"} in missing
    assert verify([str(out)]) == 0
    # Whoever is given the bytes can hold them against the entry: its line is in the export, whole.
    assert hashlib.sha256(data).hexdigest() == sha256
    assert any(sha256 in path.read_text("utf-8") for path in out.rglob("*.jsonl") if path.name != "missing.jsonl")
