"""A hidden photo is erased when one lead asks and a second agrees: its bytes, the pictures of it, the tablets' copies.

What stays is what proves it: the entries that name it, its hash, its length, and who erased it when.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from backend.test_hidden_photos import House, cards
from door_world import code_of
from live_server import LiveServer
from loupebook.cli import main
from loupebook.inspections.tables.erased import asked_of, erased_of, erasures, is_erased
from sink_tablet import SinkTablet
from story import C14, Tables, Writer, photo, taken

pytestmark = pytest.mark.photos

BAND = str(photo("band")["sha256"])
ABOUT = {"scope": C14}
MADE = ("320.jpg", "640.jpg", "look.json")
SECOND, SECOND_PIN = "Rin Oake", "604913"


# ---------------------------------------------------------------- the rule, on tables


def hidden_and_asked() -> tuple[Writer, Writer, str, str]:
    one, server = Writer("Sink 1"), Writer("server", person="moira.keld")
    one.begin()
    one.serial()
    one.find("band_tip", "band_chip", [photo("band", "finding")])
    hid = server.write("photo.hidden", {"photo": BAND}, about=ABOUT)
    asked = server.write("photo.erasure_asked", {"photo": BAND, "reason": "a face"}, about=ABOUT)
    return one, server, hid, asked


def stands(tables: Tables) -> list[str]:
    with tables.reading() as connection:
        return [each.version for each in asked_of(connection, BAND)]


def test_what_was_asked_stands_until_the_photo_is_shown_again_and_not_when_it_is_hidden_anew() -> None:
    one, server, hid, asked = hidden_and_asked()
    assert stands(taken(one, server)) == [asked]
    server.write("photo.shown_again", {"photo": BAND, "hidden": [hid], "reason": "a glove"}, about=ABOUT)
    assert stands(taken(one, server)) == []
    server.write("photo.hidden", {"photo": BAND}, about=ABOUT)
    assert stands(taken(one, server)) == []
    anew = server.write("photo.erasure_asked", {"photo": BAND, "reason": "a face, in the mirror"}, about=ABOUT)
    assert stands(taken(one, server)) == [anew]


def test_what_was_erased_says_when_by_whom_and_who_asked() -> None:
    one, server, _, asked = hidden_and_asked()
    with taken(one, server).reading() as connection:
        assert not is_erased(connection, BAND) and erased_of(connection, [BAND]) == set()
    server.person = "rin.oake"
    server.write("photo.erased", {"photo": BAND, "asked": asked}, about=ABOUT)
    with taken(one, server).reading() as connection:
        assert is_erased(connection, BAND) and erased_of(connection, [BAND, "0" * 64]) == {BAND}
        (one_erased,) = erasures(connection).values()
        assert (one_erased.photo, one_erased.by, one_erased.asked_by) == (BAND, "rin.oake", "moira.keld")
        assert one_erased.reason == "a face" and asked_of(connection, BAND) == []


# ---------------------------------------------------------------- the whole server


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    server = LiveServer(tmp_path_factory.mktemp("erased") / "record").start()
    try:
        house = House(server)
        yield house
        house.desk.close()
        house.sink.close()
    finally:
        server.close()


def files_of(data: Path, sha256: str) -> list[str]:
    """Every file of the record that holds something of this photo, by its name."""
    return sorted(path.name for folder in ("vault", "derived") for path in (data / folder).rglob(f"*{sha256}*"))


def waiting(lead: SinkTablet) -> list[dict[str, Any]]:
    """What the lead's list says waits to be erased."""
    return list(lead.browser.get("/lead/today").json()["erasures"])


def checked(out: Path) -> subprocess.CompletedProcess[str]:
    """What the program beside an export says of it."""
    return subprocess.run(
        [sys.executable, str(out / "verify.py"), str(out)], capture_output=True, text=True, check=False
    )


def test_two_leads_erase_it_and_what_proves_it_stays(house: House, tmp_path: Path) -> None:
    """One story in one test: each step stands on the one before."""
    server, sha256, about = house.server, house.sha256, {"scope": house.sink.chain.scope}
    assert files_of(server.data, sha256) == [
        sha256,
        *(f"{sha256}.{what}" for what in ("320.jpg", "640.jpg", "look.json")),
    ]
    bytes_of_it = house.get(house.sink, "full").content
    other = house.desk.add_person(SECOND, ("lead",), SECOND_PIN)
    second = SinkTablet(server.url, "Office").enrol(house.desk.invite("Office"))
    assert second.browser.post("/door/sign-in", {"person": other, "pin": SECOND_PIN}).status_code == 200
    backup = tmp_path / "backup"
    assert main(["backup", "--data", str(server.data), str(backup)]) == 0

    # asked only of a hidden one, and with a reason
    ask = {"photo": sha256, "reason": "a face in the mirror"}
    assert code_of(house.desk.command("photo.erasure_asked", ask, about)) == "not_hidden"
    assert house.desk.command("photo.hidden", {"photo": sha256}, about).status_code == 201
    assert code_of(house.desk.command("photo.erasure_asked", ask | {"reason": " "}, about)) == "bad_body"
    # nothing is erased that nobody asked for
    assert code_of(second.command("photo.erased", {"photo": sha256, "asked": "0" * 64}, about)) == "changed_meanwhile"
    asked = house.desk.command("photo.erasure_asked", ask, about)
    assert asked.status_code == 201
    assert code_of(second.command("photo.erasure_asked", ask, about)) == "changed_meanwhile"
    agree = {"photo": sha256, "asked": asked.json()["hash"]}
    (waits,) = waiting(second)
    assert (waits["photo"], waits["asked"], waits["person"]) == (sha256, agree["asked"], house.lead)
    assert waits["root"] == house.root and waits["scope"]["key"] == house.sink.chain.scope

    # not by the same lead, not by anybody who is no lead
    refused = house.desk.command("photo.erased", agree, about)
    assert (refused.status_code, code_of(refused)) == (409, "another_lead")
    for person, pin in ((house.technician, "739482"), (house.auditor, "602841")):
        house.sink.browser.post("/door/sign-in", {"person": person, "pin": pin})
        assert house.sink.command("photo.erased", agree, about).status_code == 403
        assert house.sink.command("photo.erasure_asked", ask, about).status_code == 403
    assert len(files_of(server.data, sha256)) == 4

    before = cards(house.sink)
    assert second.command("photo.erased", agree, about).status_code == 201
    assert files_of(server.data, sha256) == [] and waiting(second) == []
    for who in (house.sink, house.desk, second):
        assert house.says(who) <= {403, 410}
    # tablets hold it as hidden, for ever: nobody shows it again, looks at it or sends it anew
    assert {"photo": sha256, "hidden": True, "ended": []} in cards(house.sink)["hidden"]
    assert sha256 not in json.dumps(cards(house.sink, before["position"], before["epoch"]["id"])["scopes"])
    hid = house.page_photo()["hiding"][0]["entry"]
    again = {"photo": sha256, "hidden": [hid], "reason": "a glove"}
    assert code_of(second.command("photo.shown_again", again, about)) == "erased"
    assert code_of(second.command("photo.opened", {"photo": sha256, "reason": "is it"}, about)) == "erased"
    assert code_of(second.command("photo.erased", agree, about)) == "erased"
    assert (house.sink.put(sha256, bytes_of_it).status_code, files_of(server.data, sha256)) == (410, [])

    # the page says who and when; an export says it too, and proves that an entry does
    row = house.page_photo()
    assert row["erased"] and not row["here"] and row["restricted"] and row["sha256"] == sha256
    assert [(act["kind"], act["person"]) for act in row["hiding"]][-2:] == [
        ("photo.erasure_asked", house.lead), ("photo.erased", other),
    ]  # fmt: skip
    assert row["hiding"][-2]["reason"] == "a face in the mirror"
    out = tmp_path / "out"
    assert main(["export", "--data", str(server.data), str(out)]) == 0
    (gone,) = [json.loads(line) for line in (out / "missing.jsonl").read_text().splitlines() if sha256 in line]
    assert (gone["why"], gone["by"], gone["asked_by"]) == ("erased", other, house.lead)
    told = checked(out)
    assert f"photo {sha256}: erased on {gone['at']} by {other}" in told.stdout and "1 of them erased" in told.stdout
    assert told.returncode == 0
    claimed = {"sha256": "f" * 64, "why": "erased"}
    (out / "missing.jsonl").write_text(f"{json.dumps(claimed)}\n{json.dumps(gone)}\n")
    told = checked(out)
    assert told.returncode == 1 and f"photo {'f' * 64}: said to be erased, and no entry says so" in told.stdout

    # a backup made before is not touched; one made now has none of it
    assert files_of(backup, sha256) == [sha256]
    assert main(["backup", "--data", str(server.data), str(tmp_path / "later")]) == 0
    assert files_of(tmp_path / "later", sha256) == []
    second.close()


def test_bytes_that_a_stop_left_behind_are_erased_at_the_next_start(house: House) -> None:
    """Killed between the entry and the erasing: the start erases what the record says was erased."""
    kept = house.server.data / "vault" / "photos" / house.sha256[:2] / house.sha256
    house.server.stop()
    kept.parent.mkdir(parents=True, exist_ok=True)
    kept.write_bytes(b"what a stop left")
    (house.server.data / "derived" / house.sha256[:2]).mkdir(parents=True, exist_ok=True)
    (house.server.data / "derived" / house.sha256[:2] / f"{house.sha256}.640.jpg").write_bytes(b"\xff\xd8")
    house.server.start()
    assert files_of(house.server.data, house.sha256) == []


def test_an_older_copy_of_the_photos_brings_nothing_back_that_the_record_says_was_erased(
    house: House, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Files copied one by one over the days still hold what the database beside them says is gone."""
    copy, again = tmp_path / "copy", tmp_path / "again"
    assert main(["backup", "--data", str(house.server.data), str(copy)]) == 0
    kept = copy / "vault" / "photos" / house.sha256[:2] / house.sha256
    kept.parent.mkdir(parents=True, exist_ok=True)
    kept.write_bytes(b"copied before it was erased")
    assert main(["bring-back", "--data", str(again), str(copy)]) == 0
    assert "a photo hidden or erased since then is here again" in capsys.readouterr().out
    server = LiveServer(again).start()
    try:
        assert files_of(again, house.sha256) == []
    finally:
        server.close()
