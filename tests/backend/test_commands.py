"""What a lead writes by hand, over real HTTP against a running server: what is written, and what is refused."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator

import pytest
from door_world import LEAD_PIN, code_of
from live_server import LiveServer
from loupebook.commands import BY_HAND, PINNED, PROVED_ANEW
from loupebook.record.hashes import text_hash
from loupebook.record.kinds import SERVER_KINDS, STATION_KINDS
from sink_tablet import TECHNICIAN_PIN, SinkTablet
from story import C14, FREQUENCY_TEXT, POLICY_TEXT

pytestmark = pytest.mark.sink

REASON = "seen by the lead"


class House:
    """A server, its first tablet with the lead at it, and a technician."""

    def __init__(self, server: LiveServer) -> None:
        self.server = server
        self.desk = SinkTablet(self.server.url, "Desk")
        self.lead = self.desk.first(self.server.said("First code").split()[2])
        self.technician = self.desk.add_person()
        self.desk.chain.person = self.technician

    def aside(self) -> tuple[str, str]:
        """An inspection whose first mark came before the serial photo: its beginning, and the entry put aside."""
        chain = self.desk.chain
        begun = chain.begin("before_use")
        mark = chain.mark("lens")
        chain.serial()
        assert [each.get("reason") for each in self.desk.send()] == [None, "serial_first", None]
        return begun, mark

    def entries(self, kind: str) -> list[dict[str, object]]:
        """The lines of a kind, as the server keeps them."""
        base = sqlite3.connect(f"file:{self.server.data / 'record.sqlite'}?mode=ro", uri=True)
        try:
            rows = base.execute("SELECT line FROM log_entries WHERE kind = ? ORDER BY position", (kind,)).fetchall()
        finally:
            base.close()
        return [json.loads(row[0]) for row in rows]


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    server = LiveServer(tmp_path_factory.mktemp("commands") / "record").start()
    try:
        house = House(server)
        yield house
        house.desk.close()
    finally:
        server.close()


def test_only_server_kinds_are_commands() -> None:
    assert set(SERVER_KINDS) >= BY_HAND
    assert set(PINNED) <= PROVED_ANEW <= BY_HAND


@pytest.mark.parametrize("kind", sorted((set(SERVER_KINDS) | set(STATION_KINDS) | {"nothing"}) - BY_HAND))
def test_no_other_kind_is_written_by_hand(house: House, kind: str) -> None:
    refused = house.desk.command(kind, {})
    assert (refused.status_code, code_of(refused)) == (404, "not_a_command")


def test_settling_lets_an_entry_count_with_person_and_proof(house: House) -> None:
    begun, mark = house.aside()
    waiting = house.desk.lead("aside")["aside"]
    assert [(row["hash"], row["reason"], row["station"]) for row in waiting] == [(mark, "serial_first", "Desk")]
    told = house.desk.command("aside.settled", {"entry": mark, "outcome": "leave_out", "reason": REASON})
    assert told.status_code == 201, told.text
    assert told.headers["x-loupebook"] == "1"
    written = house.entries("aside.settled")[-1]
    assert written["body"] == {"entry": mark, "outcome": "leave_out", "reason": REASON}
    assert (written["person"], written["proof"]["how"], written["proof"]["where"]) == (house.lead, "pin", "online")  # type: ignore[index]
    assert house.desk.lead("aside")["aside"] == []
    page = house.desk.lead(f"inspections/{begun}")
    assert page["counts"]["nothing_found"] == 0


def test_what_was_settled_is_not_settled_twice(house: House) -> None:
    _, mark = house.aside()
    body = {"entry": mark, "outcome": "leave_out", "reason": REASON}
    assert house.desk.command("aside.settled", body).status_code == 201
    again = house.desk.command("aside.settled", body)
    assert (again.status_code, code_of(again)) == (409, "not_aside")


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"entry": "a" * 64, "outcome": "perhaps", "reason": REASON},
        {"entry": "A" * 64, "outcome": "count", "reason": REASON},
        {"entry": "a" * 64, "outcome": "count", "reason": "  "},
        {"entry": "a" * 64, "outcome": "count", "reason": "x" * 2001},
    ],
)
def test_a_body_that_does_not_fit_its_kind_is_refused_and_writes_nothing(house: House, body: object) -> None:
    before = house.desk.lead("aside")["position"]
    refused = house.desk.command("aside.settled", body)
    assert (refused.status_code, code_of(refused)) == (422, "bad_body")
    assert house.desk.lead("aside")["position"] == before


def test_a_scope_is_described_under_its_key(house: House) -> None:
    body = {"scope_kind": "colonoscope", "serial": "2741906", "tag": "C-14", "tube_mm": 1680}
    keyless = house.desk.command("scope.described", body)
    assert (keyless.status_code, code_of(keyless)) == (422, "bad_body")
    told = house.desk.command("scope.described", body, {"scope": C14})
    assert told.status_code == 201, told.text
    found = house.desk.lead("scopes?find=C-14")["scopes"]
    assert [(scope["key"], scope["tag"], scope["on_record"]) for scope in found] == [(C14, "C-14", "described")]


def test_a_policy_is_kept_and_named_by_its_hash(house: House) -> None:
    policy = json.loads(POLICY_TEXT) | {"id": "harrow.lake.13"}
    text = json.dumps(policy)
    told = house.desk.command("policy.set", {"text": text, "reason": "rows of the committee"})
    assert told.status_code == 201, told.text
    assert house.entries("policy.set")[-1]["body"] == {"sha256": text_hash(text), "reason": "rows of the committee"}
    cards = house.desk.browser.get("/cards?since=0").json()
    assert cards["policy"] == {"sha256": text_hash(text), "text": text}


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"rows": 3}', "{"])
def test_a_text_that_is_no_policy_is_refused(house: House, text: str) -> None:
    refused = house.desk.command("policy.set", {"text": text, "reason": REASON})
    assert (refused.status_code, code_of(refused)) == (422, "bad_body")


def test_a_hold_is_decided_only_where_there_is_one(house: House) -> None:
    chain = house.desk.chain
    chain.begun = None
    hold = chain.write("hold.placed", {"reason": "doubt", "tag_on": True}, inspection=False)
    house.desk.send()
    body = {"hold": hold, "goes": "on", "first": "nothing", "reason": REASON}
    standing = [each["hold"] for each in house.desk.lead("today")["holds"]]
    assert hold in standing
    nowhere = house.desk.command("hold.decided", body | {"hold": "b" * 64})
    assert (nowhere.status_code, code_of(nowhere)) == (409, "no_hold")
    assert house.desk.command("hold.decided", body).status_code == 201
    assert hold not in [each["hold"] for each in house.desk.lead("today")["holds"]]


def test_a_technician_writes_no_command(house: House) -> None:
    other = SinkTablet(house.server.url, "Sink 3").enrol(house.desk.invite("Sink 3"))
    try:
        assert other.browser.sign_in(house.technician, TECHNICIAN_PIN).status_code == 200
        refused = other.command("aside.settled", {"entry": "a" * 64, "outcome": "count", "reason": REASON})
        assert (refused.status_code, code_of(refused)) == (403, "not_your_part")
    finally:
        other.close()


def test_an_old_proof_is_asked_for_again(house: House) -> None:
    """The PIN was given more than five minutes ago: told by moving the session's own moment back on disk."""
    body = {"text": FREQUENCY_TEXT, "reason": REASON}
    base = sqlite3.connect(house.server.data / "record.sqlite", timeout=60)
    try:
        base.execute("UPDATE sessions SET proved_ms = proved_ms - 301000")
        base.commit()
    finally:
        base.close()
    refused = house.desk.command("frequency.set", body)
    assert (refused.status_code, code_of(refused)) == (401, "prove_again")
    assert house.entries("frequency.set") == []
    assert house.desk.browser.sign_in(house.lead, LEAD_PIN).status_code == 200
    assert house.desk.command("frequency.set", body).status_code == 201
