"""A lead decides a hold over real HTTP: on, clean again, repair, stays; what nobody may let go is refused with its row.

Which findings nobody may override is the policy's (shared/policy/policy.json, each row with its source); that a newer
look or test of the same part answers them is the product's own rule.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from door_world import code_of
from story import C14, route
from tablet import Tablet
from whole_server import WholeServer

pytestmark = [pytest.mark.repair, pytest.mark.shift]

REASON = "photos compared, edge is smooth"


@pytest.fixture
def server(tmp_path: Path) -> Iterator[WholeServer]:
    server = WholeServer(tmp_path)
    yield server
    server.close()


def inspected(server: WholeServer, *, part: str = "tube_2", finding: str | None = None, **more: Any) -> str:
    """An inspection after cleaning that ends in a hold; its beginning."""
    chain = server.desk.chain
    begun = chain.begin("after_cleaning")
    chain.serial()
    if finding is None:
        chain.mark(part)
    else:
        chain.find(part, finding, **more)
    held_at_once(chain, "after_cleaning", part)
    assert {row["verdict"] for row in server.desk.send()} == {"counted"}
    return begun


def held_at_once(chain: Tablet, point: str, *looked: str) -> None:
    """Concluded with a hold; every part not looked at is named with its reason."""
    parts, channels = route(point)
    left = [{"part": each, "reason": "held_at_once"} for each in [*parts, *channels] if each not in looked]
    chain.conclude("nothing", "hold", left=left)


def hold(server: WholeServer) -> str:
    """The newest hold that stands."""
    return str(server.desk.lead("today")["holds"][-1]["hold"])


def decide(server: WholeServer, of: str, goes: str, first: str = "nothing", reason: str = REASON) -> httpx.Response:
    body = {"hold": of, "goes": goes, "first": first, "reason": reason}
    return server.desk.command("hold.decided", body, {"scope": C14})


def standing(server: WholeServer) -> list[str]:
    return [str(row["hold"]) for row in server.desk.lead("today")["holds"]]


@pytest.mark.parametrize(
    ("goes", "first", "stands"),
    [("on", "nothing", False), ("on", "clean", False), ("hold", "nothing", True), ("repair", "nothing", True)],
)
def test_a_lead_decides_a_hold_with_a_reason(server: WholeServer, goes: str, first: str, stands: bool) -> None:
    inspected(server, finding="peeling_coat", since="new")
    of = hold(server)
    assert decide(server, of, goes, first).status_code == 201
    assert (of in standing(server)) is stands
    told = server.desk.lead(f"holds/{of}")
    assert told["hold"]["decided"] == goes
    assert [(row["goes"], row["first"], row["reason"], row["person"]) for row in told["decisions"]] == [
        (goes, first, REASON, server.lead)
    ]


def test_a_decision_without_a_reason_is_refused(server: WholeServer) -> None:
    inspected(server, finding="peeling_coat", since="new")
    told = decide(server, hold(server), "on", reason="  ")
    assert (told.status_code, code_of(told)) == (422, "bad_body")
    assert server.desk.lead(f"holds/{hold(server)}")["decisions"] == []


def test_every_decision_is_kept_and_the_last_one_counts(server: WholeServer) -> None:
    inspected(server, finding="peeling_coat", since="new")
    of = hold(server)
    for goes in ("hold", "repair", "on"):
        assert decide(server, of, goes).status_code == 201
    assert [row["goes"] for row in server.desk.lead(f"holds/{of}")["decisions"]] == ["hold", "repair", "on"]
    assert of not in standing(server)


def test_damage_of_urgency_stop_goes_on_by_nobody_before_the_part_is_looked_at_again(server: WholeServer) -> None:
    inspected(server, part="lens", finding="lens_crack", grade="present")
    of = hold(server)
    assert server.desk.lead(f"holds/{of}")["fixed"] == ["stop_damage"]
    refused = decide(server, of, "on")
    assert (refused.status_code, code_of(refused)) == (409, "nobody_may")
    assert "stop_damage" in refused.json()["trouble"]["so"]
    assert decide(server, of, "hold").status_code == 201
    assert decide(server, of, "repair").status_code == 201
    assert of in standing(server)

    inspected(server, part="tube_2")
    assert code_of(decide(server, of, "on")) == "nobody_may", "another part was looked at"
    inspected(server, part="lens")
    assert server.desk.lead(f"holds/{of}")["fixed"] == []
    assert decide(server, of, "on").status_code == 201
    assert of not in standing(server)


def test_the_same_damage_seen_again_answers_nothing(server: WholeServer) -> None:
    inspected(server, part="lens", finding="lens_crack", grade="present")
    of = hold(server)
    inspected(server, part="lens")
    inspected(server, part="lens", finding="lens_crack", grade="present", since="same")
    assert code_of(decide(server, of, "on")) == "nobody_may"


def test_a_practice_look_answers_nothing(server: WholeServer) -> None:
    inspected(server, part="lens", finding="lens_crack", grade="present")
    of = hold(server)
    chain = server.desk.chain
    chain.begin("after_cleaning", practice=True)
    chain.serial()
    chain.mark("lens")
    server.desk.send()
    assert code_of(decide(server, of, "on")) == "nobody_may"


def test_a_failed_leak_test_is_answered_by_one_that_held(server: WholeServer) -> None:
    chain = server.desk.chain
    chain.begin("at_leak_test")
    chain.serial()
    chain.write("reading.taken", {"what": "leak_test", "result": "bubbles", "steps": ["vented"]})
    held_at_once(chain, "at_leak_test")
    assert {row["verdict"] for row in server.desk.send()} == {"counted"}
    of = hold(server)
    assert server.desk.lead(f"holds/{of}")["fixed"] == ["leak_failed"]
    assert code_of(decide(server, of, "on")) == "nobody_may"
    chain.begin("at_leak_test")
    chain.serial()
    chain.write("reading.taken", {"what": "leak_test", "result": "held", "steps": ["vented"]})
    server.desk.send()
    assert decide(server, of, "on").status_code == 201


def test_a_number_that_differs_is_answered_by_a_serial_photo_that_agrees(server: WholeServer) -> None:
    chain = server.desk.chain
    chain.begin("after_cleaning")
    chain.serial(agrees="no")
    server.desk.send()
    of = hold(server)
    assert server.desk.lead(f"holds/{of}")["fixed"] == ["serial_differs"]
    assert code_of(decide(server, of, "on")) == "nobody_may"
    chain.begin("after_cleaning")
    chain.serial(agrees="yes")
    server.desk.send()
    assert decide(server, of, "on").status_code == 201


def test_a_hold_nobody_knows_is_said_to_be_none(server: WholeServer) -> None:
    told = server.desk.browser.get(f"/lead/holds/{'b' * 64}")
    assert (told.status_code, code_of(told)) == (404, "no_hold")
