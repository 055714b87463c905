"""The policy as a table that a lead changes: who, when and why stand at each row, and some rows nobody makes laxer."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import msgspec
import pytest
from door_world import code_of
from live_server import LiveServer
from loupebook.inspections.rules import standing_of
from loupebook.inspections.tables.stands import inspections
from loupebook.reading.policy import policy_page
from loupebook.reading.port import PolicyVersion
from loupebook.record.hashes import text_hash
from loupebook.rules.policy_table import changed, made_laxer, read_policy
from sink_tablet import SinkTablet
from story import PINS, POLICY, Writer, lead_sources, taken

pytestmark = pytest.mark.breadth
SHIPPED: dict[str, Any] = dict(PINS[POLICY])
MONDAY, TODAY = "2026-11-23T08:00:00.000Z", "2026-11-25T08:00:00.000Z"
FIXED = [row["id"] for row in SHIPPED["rows"] if not row["override"]]


def with_row(id: str, **more: Any) -> dict[str, Any]:
    rows = [row | more if row["id"] == id else row for row in SHIPPED["rows"]]
    return SHIPPED | {"rows": [{name: value for name, value in row.items() if value is not None} for row in rows]}


def laxer(policy: dict[str, Any]) -> list[str]:
    return made_laxer(read_policy(json.dumps(SHIPPED)), read_policy(json.dumps(policy)))


def test_what_ships_is_a_policy_and_lets_itself_stand() -> None:
    assert laxer(SHIPPED) == []


@pytest.mark.parametrize("id", FIXED)
def test_a_row_nobody_may_override_is_not_made_laxer_opened_or_taken_away(id: str) -> None:
    """Common practice, no source."""
    gone = SHIPPED | {"rows": [row for row in SHIPPED["rows"] if row["id"] != id]}
    for policy in (
        gone, with_row(id, goes="on"), with_row(id, goes=None), with_row(id, override=True),
        with_row(id, when=[{"field": "what", "eq": "nothing"}]),
    ):  # fmt: skip
        assert laxer(policy) == [id]
    assert laxer(with_row(id, goes="repair", first="whole")) == []


@pytest.mark.parametrize("policy", [
    SHIPPED | {"rows": []}, SHIPPED | {"rows": [SHIPPED["rows"][0]] * 2}, with_row("soil_again", goes="away"),
    with_row("soil_again", source=""), with_row("soil_again", when=[]), with_row("soil_again", anything=1),
])  # fmt: skip
def test_a_table_with_a_row_that_says_nothing_or_twice_is_no_policy(policy: dict[str, Any]) -> None:
    with pytest.raises(msgspec.ValidationError):
        read_policy(json.dumps(policy))


def test_what_changed_is_each_row_as_it_was_and_as_it_is() -> None:
    (one,) = changed(SHIPPED, with_row("soil_again", goes="hold"))
    assert (one["row"], one["before"].get("goes"), one["after"]["goes"]) == ("soil_again", None, "hold")
    assert changed(SHIPPED, SHIPPED) == []


def test_each_row_says_who_set_it_last_when_and_why() -> None:
    once, twice = with_row("soil_again", goes="hold"), with_row("soil_again", goes="repair")
    texts = [json.dumps(policy) for policy in (SHIPPED, once, twice)]
    told = [(None, None, None), (MONDAY, "jo.marlow", "first"), (TODAY, "moira.keld", "second")]
    versions = [PolicyVersion(text_hash(text), text, *who) for text, who in zip(texts, told, strict=True)]
    tables = taken()
    with tables.reading() as connection:
        sources = replace(lead_sources(tables), policies=lambda _: versions)
        page: dict[str, Any] = policy_page(connection, sources)
    rows = {row["id"]: row for row in page["rows"]}
    assert rows["soil_again"]["set"] == {"at": TODAY, "person": "moira.keld", "reason": "second"}
    assert rows["leak_failed"]["set"] is None
    assert [change["reason"] for change in page["changes"]] == ["second", "first"]


def test_second_opinions_say_who_switched_them_and_are_a_change_of_their_own() -> None:
    on = SHIPPED | {"second_opinion": {"on": True, "share_percent": 5, "source": "ours"}}
    texts = [json.dumps(policy) for policy in (SHIPPED, on, on | {"rows": with_row("soil_again", goes="hold")["rows"]})]
    told = [(None, None, None), (MONDAY, "jo.marlow", "observers differ"), (TODAY, "moira.keld", "a row")]
    tables = taken()
    with tables.reading() as connection:
        versions = [PolicyVersion(text_hash(text), text, *who) for text, who in zip(texts, told, strict=True)]
        sources = replace(lead_sources(tables), policies=lambda _: versions)
        page: dict[str, Any] = policy_page(connection, sources)
    second = page["second_opinion"]
    assert (second["on"], second["share_percent"], second["set"]["person"]) == (True, 5, "jo.marlow")
    assert [change["second"] and change["second"]["after"]["on"] for change in page["changes"]] == [None, True]
    # As it ships it is off: a facility chooses it.
    assert page["changes"][1]["second"]["before"]["on"] is False


def test_the_days_over_which_cleanings_are_counted_have_an_owner_and_bounds() -> None:
    """No limit is published: the number is the facility's, with who set it, when and why."""
    older = {name: value for name, value in SHIPPED.items() if name != "recleans"}
    ours = SHIPPED | {"recleans": {"days": 30, "source": "ours"}}
    tables = taken()
    with tables.reading() as connection:
        told = [(None, None, None), (MONDAY, "jo.marlow", "after three returns"), (TODAY, "moira.keld", "a row")]
        texts = [
            json.dumps(policy) for policy in (older, ours, ours | {"rows": with_row("wear_known", goes="hold")["rows"]})
        ]
        versions = [PolicyVersion(text_hash(text), text, *who) for text, who in zip(texts, told, strict=True)]
        page: dict[str, Any] = policy_page(connection, replace(lead_sources(tables), policies=lambda _: versions))
    days = page["recleans"]
    assert (days["days"], days["set"]["person"], days["set"]["reason"]) == (30, "jo.marlow", "after three returns")
    assert [change["recleans"] for change in page["changes"]] == [None, {"before": None, "after": 30}]
    for wrong in (0, -1, 3661, "90"):
        with pytest.raises(msgspec.ValidationError):
            read_policy(json.dumps(SHIPPED | {"recleans": {"days": wrong, "source": "ours"}}))


def test_an_inspection_keeps_the_policy_it_began_with() -> None:
    stricter = with_row("soil_again", goes="hold")
    pins = {**PINS, text_hash("stricter"): stricter}
    before, after = Writer("before"), Writer("after")
    before.begin()
    after.begin(policy=text_hash("stricter"))
    for writer in (before, after):
        writer.serial()
        writer.find("lens", "soil")
    tables = taken(before, after)
    with tables.reading() as connection:
        found = {one.root: one for one in inspections(connection, [str(before.begun), str(after.begun)])}
    goes = [standing_of(found[str(writer.begun)], pins.get).suggested for writer in (before, after)]
    assert [each and each.goes for each in goes] == ["on", "hold"]


# ------------------------------------------------------------------ over HTTP


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[SinkTablet, str]]:
    """A server's first tablet with the lead at it, and who the lead is."""
    server = LiveServer(tmp_path_factory.mktemp("policy") / "record").start()
    try:
        tablet = SinkTablet(server.url, "Desk")
        yield tablet, tablet.first(server.said("First code").split()[2])
        tablet.close()
    finally:
        server.close()


def test_a_lead_changes_a_row_with_a_reason_and_the_record_says_who(desk: tuple[SinkTablet, str]) -> None:
    tablet, lead = desk
    page = tablet.lead("policy")
    text = json.dumps(json.loads(page["text"]) | {"id": "second", "rows": with_row("soil_again", goes="hold")["rows"]})
    told = tablet.command("policy.set", {"text": text, "reason": "three returns in a week", "over": page["sha256"]})
    assert told.status_code == 201, told.text
    now = tablet.lead("policy")
    row = next(each for each in now["rows"] if each["id"] == "soil_again")
    assert (row["goes"], row["set"]["reason"], row["set"]["person"]) == ("hold", "three returns in a week", lead)
    assert now["sha256"] == text_hash(text) and now["people"][0]["id"] == lead
    again = tablet.command("policy.set", {"text": text, "reason": "again", "over": page["sha256"]})
    assert (again.status_code, code_of(again)) == (409, "changed_meanwhile")


def test_a_fixed_row_is_refused_and_nothing_is_written(desk: tuple[SinkTablet, str]) -> None:
    tablet, _ = desk
    before = tablet.lead("policy")["sha256"]
    text = json.dumps(with_row("leak_failed", goes="hold"))
    refused = tablet.command("policy.set", {"text": text, "reason": "a quiet week"})
    assert (refused.status_code, code_of(refused)) == (409, "row_is_fixed")
    assert tablet.lead("policy")["sha256"] == before
