"""Who and which over real HTTP: the first person, enrolling, signing in and out, withdrawing.

What is asked for stands in OWASP ASVS 5.0.0 (requirement ids beside the checks, from memory of its text).
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from door_world import LEAD_PIN, PLACE, World, code_of, opened, public_key
from loupebook.door.stations import first_code
from sqlalchemy import text

pytestmark = pytest.mark.sink


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    with opened(tmp_path) as there:
        yield there


# ---------------------------------------------------------------- the first person


def test_the_printed_code_makes_the_first_lead_and_the_first_station(world: World) -> None:
    code = first_code(world.door)
    assert code is not None
    tablet, answer = world.first(code.lower().replace("-", " "))  # as typed by a person
    told = tablet.enrolled(answer).json()
    assert told["roles"] == ["lead"]
    assert told["facility"] == {"name": "Harrow Lake Day Hospital"}
    assert told["epoch"] == {"n": 1, "id": world.log.epoch().id}
    me = tablet.get("/door/me").json()
    assert (me["person"], me["name"], me["initials"]) == (told["person"], "Moira Keld", "MK")
    entries = world.own.entries()
    assert [entry["kind"] for entry in entries] == ["station.enrolled", "person.added"]
    assert {entry["person"] for entry in entries} == {told["person"]}
    assert {str(entry["proof"]) for entry in entries} == {
        str({"how": "pin", "where": "online", "ticket": told["ticket"]})
    }


def test_there_is_no_first_code_once_there_is_a_person(world: World) -> None:
    """ASVS 6.3.2: no default accounts, and no second way in."""
    code = first_code(world.door)
    assert code is not None
    world.first(code)
    assert first_code(world.door) is None
    _, again = world.first(code)
    assert code_of(again) == "first_is_over"


def test_two_at_once_with_the_first_code_make_one_lead(world: World) -> None:
    code = first_code(world.door)
    assert code is not None
    answers: list[int] = []
    both = [threading.Thread(target=lambda: answers.append(world.first(code)[1].status_code)) for _ in range(2)]
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert sorted(answers) == [201, 409]
    assert [entry["kind"] for entry in world.own.entries()].count("person.added") == 1


def test_a_weak_pin_leaves_the_first_code_good(world: World) -> None:
    code = first_code(world.door)
    assert code is not None
    _, weak = world.first(code, "123456")
    assert code_of(weak) == "weak_pin"
    assert world.own.entries() == []
    _, good = world.first(code)
    assert good.status_code == 201


def test_a_failure_between_the_two_first_entries_leaves_the_way_in_open(world: World) -> None:
    code = first_code(world.door)
    assert code is not None
    world.own.folds["station.enrolled"].next = OSError("disk")
    _, failed = world.first(code)
    assert failed.status_code == 500
    assert world.own.entries() == []
    _, good = world.first(code)
    assert good.status_code == 201


def test_wrong_first_codes_wait_longer_and_longer(world: World) -> None:
    code = first_code(world.door)
    assert code is not None
    waits = []
    for _ in range(4):
        assert code_of(world.first("0000-0000-0000")[1]) == "wrong_code"
        refused = world.first(code)[1]  # even the right one waits
        assert code_of(refused) == "slow_down"
        waits.append(int(refused.headers["retry-after"]))
        world.clock.go_on(seconds=waits[-1])
    assert waits == [2, 3, 5, 9]  # 1, 2, 4, 8 s, rounded up past the moment itself
    assert world.first(code)[1].status_code == 201


# ---------------------------------------------------------------- enrolling


def test_an_invited_tablet_becomes_a_station_with_what_the_lead_said(world: World) -> None:
    lead = world.led()
    tablet = world.invited(lead, "Sink 2", ["after_cleaning", "at_leak_test"])
    entry = world.own.entries()[-1]
    assert entry["kind"] == "station.enrolled"
    assert entry["person"] == world.lead_id
    assert entry["body"] == {
        "station": tablet.station,
        "chain": tablet.chain,
        "name": "Sink 2",
        "place": "Reprocessing",
        "side": "dirty",
        "points": ["after_cleaning", "at_leak_test"],
    }
    listed = {row["station"]: row for row in lead.get("/lead/stations").json()["stations"]}
    assert listed[tablet.station]["name"] == "Sink 2"
    assert listed[tablet.station]["head"] == {"seq": 0, "hash": None, "received_at": None}


def test_a_code_enrols_one_station_and_no_second(world: World) -> None:
    """Enrolment replayed: the same code, by the same or another key, is spent (ASVS 6.4.1)."""
    lead = world.led()
    code = lead.post("/door/invite", {**PLACE, "points": ["before_use"]}).json()["code"]
    key = public_key()
    assert world.tablet().post("/door/enrol", {"code": code, "public_key": key}).status_code == 201
    for again in (key, public_key()):
        assert code_of(world.tablet().post("/door/enrol", {"code": code, "public_key": again})) == "code_used"
    kinds = [entry["kind"] for entry in world.own.entries()]
    assert kinds.count("station.enrolled") == 2  # the first person's and this one


def test_a_code_raced_by_many_tablets_enrols_one(world: World) -> None:
    lead = world.led()
    code = lead.post("/door/invite", {**PLACE, "points": ["before_use"]}).json()["code"]
    statuses: list[int] = []

    def race() -> None:
        answer = world.tablet().post("/door/enrol", {"code": code, "public_key": public_key()})
        statuses.append(answer.status_code)

    racers = [threading.Thread(target=race) for _ in range(6)]
    for racer in racers:
        racer.start()
    for racer in racers:
        racer.join()
    assert sorted(statuses) == [201, 409, 409, 409, 409, 409]


def test_a_code_dies_after_a_shift(world: World) -> None:
    lead = world.led()
    code = lead.post("/door/invite", {**PLACE, "points": ["before_use"]}).json()["code"]
    world.clock.go_on(hours=8)
    assert code_of(world.tablet().post("/door/enrol", {"code": code, "public_key": public_key()})) == "code_over"


def test_a_code_nobody_made_is_refused_and_guessing_is_slowed(world: World) -> None:
    """ASVS 2.4.1, 6.3.1."""
    tablet = world.tablet()
    answers = [
        code_of(tablet.post("/door/enrol", {"code": "ABCD-EFGH-JKMN", "public_key": public_key()})) for _ in range(11)
    ]
    assert answers == ["wrong_code"] * 10 + ["slow_down"]


@pytest.mark.parametrize("key", ["", "AAAA", "not base64!", public_key()[:-4], public_key() + "AAAA"])
def test_a_key_that_is_no_p256_key_is_refused(world: World, key: str) -> None:
    lead = world.led()
    code = lead.post("/door/invite", {**PLACE, "points": ["before_use"]}).json()["code"]
    assert code_of(world.tablet().post("/door/enrol", {"code": code, "public_key": key})) == "bad_key"
    assert world.tablet().post("/door/enrol", {"code": code, "public_key": public_key()}).status_code == 201


def test_a_key_already_in_use_is_refused(world: World) -> None:
    lead = world.led()
    codes = [lead.post("/door/invite", {**PLACE, "points": ["before_use"]}).json()["code"] for _ in range(2)]
    key = public_key()
    assert world.tablet().post("/door/enrol", {"code": codes[0], "public_key": key}).status_code == 201
    assert code_of(world.tablet().post("/door/enrol", {"code": codes[1], "public_key": key})) == "key_known"


def test_a_wiped_tablet_goes_on_in_a_new_chain_that_names_the_old_head(world: World) -> None:
    tablet = world.led()
    key, old = public_key(), {"chain": tablet.chain, "seq": 7, "hash": "a" * 64}
    made = tablet.post("/door/chain", {"public_key": key, "old": old, "why": "wiped"})
    assert made.status_code == 201
    again = tablet.post("/door/chain", {"public_key": key, "old": old, "why": "wiped"})  # the answer was lost
    assert again.json() == made.json()
    chained = [entry for entry in world.own.entries() if entry["kind"] == "station.chained"]
    assert [entry["body"] for entry in chained] == [
        {
            "station": tablet.station,
            "chain": made.json()["chain"],
            "old_chain": tablet.chain,
            "old_seq": 7,
            "old_hash": "a" * 64,
            "why": "wiped",
        }
    ]
    assert chained[0]["person"] == tablet.station


def test_a_tablet_cannot_go_on_from_the_chain_of_another(world: World) -> None:
    lead = world.led()
    other = world.invited(lead)
    stolen = {"public_key": public_key(), "old": {"chain": lead.chain, "seq": 0}, "why": "wiped"}
    assert code_of(other.post("/door/chain", stolen)) == "not_this_chain"


# ---------------------------------------------------------------- sessions


def test_a_sign_in_gives_roles_ticket_and_a_cookie_no_script_can_read(world: World) -> None:
    """ASVS 3.3.1, 3.3.2, 3.3.4; the plain name stands only because this is http on loopback."""
    lead = world.led()
    rin = world.person(lead, "Rin Oake", ["technician", "runner"], "739482")
    answer = lead.sign_in(rin, "739482")
    told = answer.json()
    assert (told["person"], told["roles"]) == (rin, ["technician", "runner"])
    assert told["until"] == "2025-11-25T18:00:00.000Z"
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith("loupebook=")
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))
    assert len(cookie.split(";")[0].removeprefix("loupebook=")) >= 22  # 128 bits in base64url (ASVS 7.2.3)


def test_each_sign_in_has_a_token_of_its_own_and_ends_the_one_before(world: World) -> None:
    """ASVS 7.2.4; on a shared tablet the next person's sign-in is the former one's sign-out."""
    lead = world.led()
    before = lead.http.cookies["loupebook"]
    lead.sign_in(world.lead_id, LEAD_PIN)
    after = lead.http.cookies["loupebook"]
    assert before != after
    lead.http.cookies.set("loupebook", before, domain="127.0.0.1", path="/")
    lead.http.cookies.clear()
    answer = lead.http.get("/door/me", headers={"Cookie": f"loupebook={before}"})
    assert code_of(answer) == "signed_out"
    assert lead.http.get("/door/me", headers={"Cookie": f"loupebook={after}"}).status_code == 200


def test_signing_out_kills_the_token_on_the_server_and_clears_no_storage(world: World) -> None:
    """ASVS 7.4.1. Clear-Site-Data would take what the tablet has not sent (stated deviation from 14.3.1)."""
    lead = world.led()
    token = lead.http.cookies["loupebook"]
    out = lead.post("/door/sign-out", {})
    assert out.status_code == 200
    assert "clear-site-data" not in out.headers
    assert "loupebook" not in lead.http.cookies
    assert code_of(lead.http.get("/door/me", headers={"Cookie": f"loupebook={token}"})) == "signed_out"


def test_a_desk_left_alone_for_a_quarter_of_an_hour_is_signed_out(world: World) -> None:
    """ASVS 7.3.1."""
    lead = world.led()
    world.clock.go_on(minutes=14, seconds=59)
    assert lead.get("/lead/stations").status_code == 200
    world.clock.go_on(minutes=14, seconds=59)
    assert lead.get("/lead/stations").status_code == 200
    world.clock.go_on(minutes=15)
    assert code_of(lead.get("/lead/stations")) == "signed_out"


def test_a_session_ends_after_twelve_hours_however_busy(world: World) -> None:
    """ASVS 7.3.2."""
    lead = world.led()
    for _ in range(71):
        world.clock.go_on(minutes=10)
        assert lead.get("/lead/stations").status_code == 200
    world.clock.go_on(minutes=10)
    assert code_of(lead.get("/lead/stations")) == "signed_out"


def test_asking_who_is_signed_in_keeps_no_desk_awake(world: World) -> None:
    lead = world.led()
    world.clock.go_on(minutes=10)
    assert lead.get("/door/me").status_code == 200
    world.clock.go_on(minutes=5)
    assert code_of(lead.get("/door/me")) == "signed_out"


@pytest.mark.parametrize(
    "gone", ["UPDATE people SET active = 0", "UPDATE stations SET revoked = 1", "DELETE FROM people"]
)
def test_a_session_lives_no_longer_than_what_the_entries_say(world: World, gone: str) -> None:
    """Its row may outlive a rebuild of the folded tables; what they say of person and station counts."""
    lead = world.led()
    with world.log.writing() as write:
        write.execute(text(gone))
    lead.token = None
    assert code_of(lead.get("/door/me")) == "signed_out"


def test_what_gives_rights_asks_for_the_pin_again_after_five_minutes(world: World) -> None:
    """ASVS 7.5.3."""
    lead = world.led()
    world.clock.go_on(minutes=5, seconds=1)
    wish = {**PLACE, "points": ["before_use"]}
    assert code_of(lead.post("/door/invite", wish)) == "prove_again"
    lead.sign_in(world.lead_id, LEAD_PIN)
    assert lead.post("/door/invite", wish).status_code == 201


# ---------------------------------------------------------------- people


def test_switching_a_person_off_ends_their_session_at_once(world: World) -> None:
    """ASVS 7.4.2."""
    lead = world.led()
    tobin = world.person(lead, "Tobin Sarr", ["technician"], "739482")
    tablet = world.invited(lead)
    tablet.sign_in(tobin, "739482")
    assert tablet.get("/door/me").status_code == 200
    assert lead.post(f"/door/people/{tobin}", {"active": False}).status_code == 200
    assert code_of(tablet.get("/door/me")) == "signed_out"
    assert code_of(tablet.sign_in(tobin, "739482")) == "person_off"
    assert world.own.entries()[-1]["body"] == {"person": tobin, "roles": ["technician"], "active": False}


def test_a_role_taken_away_counts_at_the_next_request(world: World) -> None:
    lead = world.led()
    ila = world.person(lead, "Ila Venn", ["technician", "auditor"], "739482")
    tablet = world.invited(lead)
    tablet.sign_in(ila, "739482")
    assert tablet.get("/lead/stations").status_code == 200
    lead.post(f"/door/people/{ila}", {"roles": ["technician"]})
    assert code_of(tablet.get("/lead/stations")) == "not_your_part"


def test_what_a_change_leaves_out_stays(world: World) -> None:
    """A missing field never removes a role; only naming the roles does."""
    lead = world.led()
    ila = world.person(lead, "Ila Venn", ["technician", "runner"], "739482")
    lead.post(f"/door/people/{ila}", {"name": "Ila V. Venn"})
    row = next(row for row in lead.get("/lead/people").json()["people"] if row["person"] == ila)
    assert (row["name"], row["roles"], row["active"]) == ("Ila V. Venn", ["technician", "runner"], True)


def test_the_last_lead_can_neither_step_down_nor_be_switched_off(world: World) -> None:
    lead = world.led()
    for wish in ({"roles": ["technician"]}, {"active": False}):
        assert code_of(lead.post(f"/door/people/{world.lead_id}", wish)) == "last_lead"
    world.person(lead, "Ila Venn", ["lead"], "739482")
    assert lead.post(f"/door/people/{world.lead_id}", {"roles": ["technician"]}).status_code == 200


def test_of_two_leads_changing_one_person_at_once_none_undoes_the_other(world: World) -> None:
    """Both read, one writes, the other is told (ASVS 2.3.3)."""
    lead = world.led()
    ila = world.person(lead, "Ila Venn", ["technician"], "739482")
    answers: list[str] = []

    def change(wish: dict[str, object]) -> None:
        answer = lead.post(f"/door/people/{ila}", wish)
        answers.append("done" if answer.status_code == 200 else code_of(answer))

    wishes: list[dict[str, object]] = [{"roles": ["technician", "runner"]}, {"active": False}]
    both = [threading.Thread(target=change, args=(wish,)) for wish in wishes]
    for one in both:
        one.start()
    for one in both:
        one.join()
    row = next(row for row in lead.get("/lead/people").json()["people"] if row["person"] == ila)
    if sorted(answers) == ["done", "done"]:
        assert (row["roles"], row["active"]) == (["technician", "runner"], False)
    else:
        assert sorted(answers) == ["changed_meanwhile", "done"]


def test_names_and_pins_never_stand_in_an_entry(world: World) -> None:
    lead = world.led()
    world.person(lead, "Ila Venn", ["technician"], "739482")
    written = str(world.own.entries())
    for secret in ("Moira", "Ila", LEAD_PIN, "739482", str(lead.token), lead.http.cookies["loupebook"]):
        assert secret not in written


def test_a_person_sets_a_pin_of_their_own_and_their_other_sessions_end(world: World) -> None:
    lead = world.led()
    ila = world.person(lead, "Ila Venn", ["technician"], "739482")
    here, there = world.invited(lead), world.invited(lead, "Sink 3")
    here.sign_in(ila, "739482")
    there.sign_in(ila, "739482")
    assert here.get("/door/me").json()["pin_by_lead"] is True
    assert code_of(here.post("/door/pin", {"old": "739482", "new": "111111"})) == "weak_pin"
    assert code_of(here.post("/door/pin", {"old": "739483", "new": "904127"})) == "wrong_pin"
    world.clock.go_on(seconds=1)
    assert here.post("/door/pin", {"old": "739482", "new": "904127"}).status_code == 200
    assert here.get("/door/me").json()["pin_by_lead"] is False
    assert code_of(there.get("/door/me")) == "signed_out"
    assert code_of(there.sign_in(ila, "739482")) == "wrong_pin"
    world.clock.go_on(seconds=1)
    assert there.sign_in(ila, "904127").status_code == 200


# ---------------------------------------------------------------- withdrawing


def test_a_withdrawn_station_is_signed_out_sees_nothing_and_cannot_sign_in(world: World) -> None:
    lead = world.led()
    tablet = world.invited(lead)
    ila = world.person(lead, "Ila Venn", ["lead"], "739482")
    tablet.sign_in(ila, "739482")
    world.clock.go_on(minutes=10)  # no fresh PIN is asked for: a stolen tablet is withdrawn at once
    gone = lead.post(f"/door/stations/{tablet.station}/revoke", {"reason": "left on the trolley"})
    assert gone.status_code == 200
    assert code_of(tablet.get("/lead/stations")) == "station_withdrawn"
    assert code_of(tablet.sign_in(ila, "739482")) == "station_withdrawn"
    entry = world.own.entries()[-1]
    assert (entry["kind"], entry["body"]) == (
        "station.revoked",
        {"station": tablet.station, "reason": "left on the trolley"},
    )
    lead.post(f"/door/stations/{tablet.station}/revoke", {"reason": "again"})
    assert len([e for e in world.own.entries() if e["kind"] == "station.revoked"]) == 1


def test_a_station_is_remembered_until_anything_of_the_door_changes(world: World) -> None:
    """What tablets send is let in without asking the record each time; a change of the door asks it again."""
    lead = world.led()
    tablet = world.invited(lead)
    token = str(tablet.token)
    assert world.door.remembered(token) is None, "nobody read it yet"
    for _ in range(2):  # the first also notes that it was seen
        world.door.recognise(token, None)
    here = world.door.remembered(token)
    assert here is not None and here.station == tablet.station and not here.revoked
    assert world.door.remembered(token + "x") is None
    world.clock.go_on(minutes=1)
    assert world.door.remembered(token) is None, "that it is alive has to be noted once a minute"
    for change in (
        lambda: world.person(lead, "Ila Venn", ["technician"], "739482"),
        lambda: lead.post(f"/door/stations/{tablet.station}/revoke", {"reason": "left on the trolley"}),
    ):
        for _ in range(2):
            world.door.recognise(token, None)
        assert world.door.remembered(token) is not None
        change()
        assert world.door.remembered(token) is None
    station, _ = world.door.recognise(token, None)
    assert station is not None and station.revoked
    remembered = world.door.remembered(token)
    assert remembered is None or remembered.revoked


def test_what_is_read_while_the_door_changes_is_not_remembered(world: World) -> None:
    """A reader that began before a withdrawal was committed must not bring the station back for those after it."""
    lead = world.led()
    tablet = world.invited(lead)
    token = str(tablet.token)
    world.door.recognise(token, None)
    before = world.log.door_state
    station, _ = world.door.recognise(token, None)
    assert station is not None
    lead.post(f"/door/stations/{tablet.station}/revoke", {"reason": "lost"})
    world.door._remember(token, station, before)
    assert world.door.remembered(token) is None


def test_when_the_log_takes_no_more_people_still_read_and_are_told(world: World) -> None:
    """ASVS 16.5.3: closed for rights, open for the record. That a session was used cannot be kept, and need not be."""
    lead = world.led()
    world.log.close()
    world.clock.go_on(minutes=2)
    assert lead.get("/lead/stations").status_code == 200
    refused = lead.sign_in(world.lead_id, LEAD_PIN)
    assert (refused.status_code, code_of(refused)) == (503, "stopping")
    assert lead.get("/door/me").status_code == 200


def test_nothing_of_an_act_stays_when_its_entry_cannot_be_written(world: World) -> None:
    """The rows outside the log and the entry are one transaction."""
    lead = world.led()
    before = lead.get("/lead/people").json()
    world.own.folds["person.added"].next = OSError("disk")
    failed = lead.post("/door/people", {"name": "Ila Venn", "roles": ["technician"], "pin": "739482"})
    assert failed.status_code == 500
    assert lead.get("/lead/people").json() == before
