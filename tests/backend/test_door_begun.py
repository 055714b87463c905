"""An empty installation becomes a facility: its words, the first lead's recovery code, and codes that set a PIN."""

from __future__ import annotations

import json
import os
import re
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from door_world import LEAD_PIN, Tablet, World, code_of, opened, public_key
from live_server import LiveServer
from loupebook.door.stations import first_code

pytestmark = pytest.mark.breadth

PIN = "739482"
NEW_PIN = "904127"
FACILITY: dict[str, Any] = {
    "name": "Harrow Lake <b>Day</b> Hospital",
    "zone": "Europe/Helsinki",
    "shifts": [
        {"name": "day", "begins": "07:00", "ends": "15:00"},
        {"name": "evening", "begins": "15:00", "ends": "22:30"},
        {"name": "night", "begins": "22:30", "ends": "07:00"},
    ],
    "places": [
        {"name": "Decontamination", "side": "dirty", "points": ["at_leak_test", "after_cleaning"]},
        {"name": "Clean store", "side": "clean", "points": ["after_drying", "before_use"]},
    ],
}


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    with opened(tmp_path) as there:
        yield there


def begin(server: LiveServer, place: str = "Decontamination", **facility: Any) -> tuple[int, dict[str, Any]]:
    """What a browser posts at the end of the first steps."""
    import httpx

    body = {
        "code": server.said("First code").split()[2],
        "person": {"name": "Moira Keld", "pin": LEAD_PIN},
        "station": {"name": "Sink 1", "place": place, "side": "both"},
        "public_key": public_key(),
        "facility": FACILITY | facility,
    }
    headers = {"X-Loupebook": "1", "Origin": server.url, "Sec-Fetch-Site": "same-origin"}
    answer = httpx.post(server.url + "/door/first", json=body, headers=headers, trust_env=False, timeout=60)
    return answer.status_code, answer.json()


def test_the_first_lead_says_what_the_facility_is_and_gets_a_recovery_code(tmp_path: Path) -> None:
    server = LiveServer(tmp_path / "record").start()
    try:
        status, told = begin(server)
        assert status == 201, told
        assert told["facility"] == FACILITY
        assert json.loads((server.data / "facility.json").read_text("utf-8")) == FACILITY
        assert len(told["recovery"].replace("-", "")) == 20
        with sqlite3.connect(f"file:{server.data / 'record.sqlite'}?mode=ro", uri=True) as base:
            station = base.execute("SELECT place, side, points FROM stations").fetchone()
            kept = base.execute("SELECT code_hash, why FROM pin_codes").fetchall()
            lines = b"".join(row[0] for row in base.execute("SELECT line FROM log_entries"))
        base.close()
        # The place says the side and the points, not the station's own words.
        assert station == ("Decontamination", "dirty", "at_leak_test after_cleaning")
        assert [why for _, why in kept] == ["recovery"]
        everything = repr(kept).encode() + lines + server.log.read_bytes()
        assert told["recovery"].encode() not in everything
        assert told["recovery"].replace("-", "").encode() not in everything
    finally:
        server.close()


@pytest.mark.parametrize(
    ("wrong", "code"),
    [
        ({"zone": "Europe/Nowhere"}, "bad_zone"),
        ({"zone": "../../etc/passwd"}, "bad_zone"),
        ({"shifts": [FACILITY["shifts"][0], FACILITY["shifts"][0]]}, "same_name"),
        ({"places": [FACILITY["places"][0], FACILITY["places"][0] | {"name": "decontamination"}]}, "same_name"),
        ({"shifts": [{"name": "day", "begins": "07:00", "ends": "07:00"}, FACILITY["shifts"][2]]}, "no_hours"),
        ({"shifts": [{"name": "day/night", "begins": "07:00", "ends": "15:00"}]}, "bad_body"),
        ({"shifts": [{"name": "day", "begins": "7", "ends": "25:00"}]}, "bad_body"),
        ({"shifts": []}, "bad_body"),
        ({"places": []}, "bad_body"),
        ({"places": [{"name": " ", "side": "both", "points": ["acceptance"]}]}, "bad_body"),
        ({"places": [{"name": "Store", "side": "both", "points": []}]}, "bad_body"),
    ],
)
def test_a_facility_that_does_not_fit_begins_nothing_and_the_code_still_works(
    tmp_path: Path, wrong: dict[str, Any], code: str
) -> None:
    server = LiveServer(tmp_path / "record").start()
    try:
        status, told = begin(server, **wrong)
        assert (status, told["trouble"]["code"]) == (422, code)
        assert not (server.data / "facility.json").exists()
        assert begin(server)[0] == 201
    finally:
        server.close()


def test_one_shift_may_last_the_whole_day(tmp_path: Path) -> None:
    server = LiveServer(tmp_path / "record").start()
    try:
        assert begin(server, shifts=[{"name": "day", "begins": "00:00", "ends": "00:00"}])[0] == 201
    finally:
        server.close()


# ---------------------------------------------------------------- codes


def led(world: World) -> tuple[Any, str]:
    """The first tablet with its lead, and the recovery code that was said."""
    code = first_code(world.door)
    assert code is not None
    tablet, answer = world.first(code)
    tablet.enrolled(answer)
    world.lead_id = answer.json()["person"]
    return tablet, answer.json()["recovery"]


def test_a_recovery_code_opens_the_sign_in_once_and_every_other_lead_is_told(world: World) -> None:
    tablet, code = led(world)
    other_id = world.person(tablet, "Jo Marlow", ["lead"], PIN)
    technician_id = world.person(tablet, "Ila Venn", ["technician"], PIN)
    body = {"person": world.lead_id, "code": code.lower(), "pin": NEW_PIN}
    seat = world.invited(tablet, "Sink 2")
    answer = seat.post("/door/by-code", body)
    assert answer.status_code == 200, answer.text
    assert answer.json()["roles"] == ["lead"]
    entry = world.own.entries()[-1]
    assert (entry["kind"], entry["body"]["by"], entry["body"]["station"]) == (
        "person.changed",
        "recovery_code",
        seat.station,
    )
    assert (entry["person"], entry["proof"]) == (world.lead_id, {"how": "named", "where": "online"})
    assert tablet.get("/door/me").status_code == 401, "a session from before the code lives on"
    assert code_of(seat.post("/door/by-code", body)) == "code_used"
    assert code_of(tablet.sign_in(world.lead_id, LEAD_PIN)) == "wrong_pin"
    # The lead who came back needs no telling; the other does, until they have seen it; nobody else is told.
    assert seat.get("/door/me").json()["told"] == []
    assert tablet.sign_in(technician_id, PIN).status_code == 200
    assert tablet.get("/door/me").json()["told"] == []
    assert tablet.sign_in(other_id, PIN).status_code == 200
    (told,) = tablet.get("/door/me").json()["told"]
    assert (told["person"], told["name"], told["station"]) == (world.lead_id, "Moira Keld", "Sink 2")
    assert tablet.post("/door/seen", {"entry": told["entry"]}).status_code == 200
    assert tablet.post("/door/seen", {"entry": told["entry"]}).status_code == 200
    assert tablet.get("/door/me").json()["told"] == []
    assert tablet.post("/door/seen", {"entry": "0" * 64}).status_code == 200


def test_a_new_recovery_code_ends_the_one_before_and_asks_for_a_fresh_pin(world: World) -> None:
    tablet, old = led(world)
    new = tablet.post("/door/recovery", {}).json()["code"]
    assert new != old
    refused = tablet.post("/door/by-code", {"person": world.lead_id, "code": old, "pin": NEW_PIN})
    assert code_of(refused) == "wrong_code"
    world.clock.go_on(minutes=6)
    assert code_of(tablet.post("/door/recovery", {})) == "prove_again"
    assert tablet.post("/door/by-code", {"person": world.lead_id, "code": new, "pin": NEW_PIN}).status_code == 200


def test_a_recovery_code_opens_nobody_else_and_ends_with_the_role(world: World) -> None:
    tablet, code = led(world)
    other = world.person(tablet, "Jo Marlow", ["lead"], PIN)
    refused = tablet.post("/door/by-code", {"person": other, "code": code, "pin": NEW_PIN})
    assert code_of(refused) == "wrong_code"
    assert tablet.sign_in(other, PIN).status_code == 200
    assert tablet.post(f"/door/people/{world.lead_id}", {"roles": ["technician"]}).status_code == 200
    refused = tablet.post("/door/by-code", {"person": world.lead_id, "code": code, "pin": NEW_PIN})
    assert code_of(refused) == "code_over"


def test_a_stopped_lead_comes_back_by_the_recovery_code(world: World) -> None:
    tablet, code = led(world)
    for _ in range(10):
        tablet.sign_in(world.lead_id, "111222")
        world.clock.go_on(minutes=10)
    assert code_of(tablet.sign_in(world.lead_id, LEAD_PIN)) == "pin_stopped"
    weak = tablet.post("/door/by-code", {"person": world.lead_id, "code": code, "pin": "123456"})
    assert code_of(weak) == "weak_pin"
    assert tablet.post("/door/by-code", {"person": world.lead_id, "code": code, "pin": NEW_PIN}).status_code == 200
    tablet.post("/door/sign-out", {})
    assert tablet.sign_in(world.lead_id, NEW_PIN).status_code == 200


def test_a_first_code_sets_a_pin_once_and_no_lead_knows_it(world: World) -> None:
    tablet, _ = led(world)
    person = world.person(tablet, "Rin Oake", ["technician"], PIN)
    asked = tablet.post("/door/codes", {"people": [person, person]})
    assert asked.status_code == 201, asked.text
    (given,) = asked.json()["codes"]
    assert (given["person"], given["name"], len(given["code"])) == (person, "Rin Oake", 14)
    again = tablet.post("/door/codes", {"people": [person]}).json()["codes"][0]
    before = len(world.own.entries())
    seat = world.invited(tablet)
    refused = seat.post("/door/by-code", {"person": person, "code": given["code"], "pin": NEW_PIN})
    assert code_of(refused) == "wrong_code", "a code that was printed anew still works"
    body = {"person": person, "code": again["code"], "pin": NEW_PIN}
    assert seat.post("/door/by-code", body).status_code == 200
    assert len(world.own.entries()) == before + 1, "only the tablet's own enrolment is an entry"
    assert seat.get("/door/me").json()["pin_by_lead"] is False
    assert code_of(seat.post("/door/by-code", body)) == "code_used"


def test_a_first_code_ends_after_two_weeks_and_is_for_people_who_are_there(world: World) -> None:
    tablet, _ = led(world)
    person = world.person(tablet, "Rin Oake", ["technician"], PIN)
    code = tablet.post("/door/codes", {"people": [person]}).json()["codes"][0]["code"]
    assert code_of(tablet.post("/door/codes", {"people": [person, "p-nobody"]})) == "no_such_person"
    assert tablet.post(f"/door/people/{person}", {"active": False}).status_code == 200
    assert code_of(tablet.post("/door/by-code", {"person": person, "code": code, "pin": NEW_PIN})) == "person_off"
    assert code_of(tablet.post("/door/codes", {"people": [person]})) == "no_such_person"
    world.clock.go_on(days=14)
    assert code_of(tablet.post("/door/by-code", {"person": person, "code": code, "pin": NEW_PIN})) == "code_over"


def test_codes_are_tried_slowly(world: World) -> None:
    tablet, _ = led(world)
    body = {"person": world.lead_id, "code": "0000-0000-0000", "pin": NEW_PIN}
    told = [code_of(tablet.post("/door/by-code", body)) for _ in range(12)]
    assert told[0] == "wrong_code"
    assert told[-1] == "slow_down"


def test_a_way_back_is_made_at_the_server_machine_alone_and_every_lead_is_told(tmp_path: Path) -> None:
    """PIN, recovery code and the one tablet are lost: two codes let the lead in again, in a browser that is new."""
    server = LiveServer(tmp_path / "record").start()
    try:
        _, told = begin(server)
        old = told["recovery"]
        busy = verb(server, "way-back")
        assert busy.returncode == 5 and "is running with" in busy.stderr and "Nothing was changed" in busy.stderr
        server.stop()
        who = verb(server, "way-back", "Nobody Else")
        assert who.returncode == 1 and "Moira Keld" in who.stderr and "Nothing was written" in who.stderr
        made = verb(server, "way-back", "moira keld")
        assert made.returncode == 0, made.stderr
        station, recovery = re.findall(r"(?:Station|Recovery) code +(\S+)", made.stdout)
        server.start()
        lead = Tablet(server.url)
        lead.enrolled(lead.post("/door/enrol", {"code": station, "public_key": public_key()}))
        person = told["person"]
        refused = lead.post("/door/by-code", {"person": person, "code": old, "pin": NEW_PIN})
        assert refused.status_code >= 400, "the code on the lost paper opens nothing any more"
        time.sleep(1.1)  # the door takes no code in the second after a wrong one
        answer = lead.post("/door/by-code", {"person": person, "code": recovery, "pin": NEW_PIN})
        assert answer.status_code == 200, answer.text
        (row,) = lead.get("/door/me").json()["told"]
        assert (row["by"], row["person"], row["name"]) == ("server_machine", person, "Moira Keld")
        assert lead.post("/door/seen", {"entry": row["entry"]}).status_code == 200
        assert lead.get("/door/me").json()["told"] == []
        spent = lead.post("/door/enrol", {"code": station, "public_key": public_key()})
        assert spent.status_code >= 400
        lead.http.close()
    finally:
        server.close()
    with sqlite3.connect(server.data / "record.sqlite") as base:
        lines = [json.loads(line) for (line,) in base.execute("SELECT line FROM log_entries ORDER BY position")]
    made_entry, enrolled = lines[2], lines[3]
    assert (made_entry["kind"], made_entry["person"], made_entry["body"]["by"]) == (
        "person.changed", "server", "server_machine",
    )  # fmt: skip
    assert (enrolled["kind"], enrolled["proof"]) == ("station.enrolled", {"how": "named", "where": "online"})


def verb(server: LiveServer, *words: str) -> subprocess.CompletedProcess[str]:
    """One verb on the folder of a server."""
    return subprocess.run(
        [sys.executable, "-m", "loupebook", *words, "--data", str(server.data)],
        env={**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2] / "backend")},
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip
