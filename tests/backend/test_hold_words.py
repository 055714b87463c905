"""What stands beside the decisions on a hold: a lead's word by phone, those it is brought before, work asked of people.

That a call counts only once it is confirmed, that nobody does another's work, and that a second reader does not see
what the first one said are the product's own rules; who is told of what is the policy's (shared/policy/policy.json,
each row with its source). Dates under which duties might run: tests/backend/test_duties.py.
"""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from door_world import code_of
from loupebook.door.rights import DEPUTY_KINDS
from loupebook.rules.duties import duties_of
from pypdf import PdfReader
from sink_tablet import SinkTablet
from story import C14, POLICY_TEXT, route
from whole_server import WholeServer

pytestmark = [pytest.mark.repair, pytest.mark.shift]

WORDS = "an old mark, the same as last month"


@pytest.fixture
def server(tmp_path: Path) -> Iterator[WholeServer]:
    server = WholeServer(tmp_path)
    described = {"scope_kind": "colonoscope", "serial": "2741906", "di": "51022222233336", "tag": "C-14"}
    assert server.desk.command("scope.described", described, {"scope": C14}).status_code == 201
    yield server
    server.close()


def held(tablet: SinkTablet, part: str = "tube_2", finding: str = "peeling_coat", **more: Any) -> tuple[str, str]:
    """An inspection with one finding and its photo that ends in a hold: its beginning, and the finding's entry."""
    chain = tablet.chain
    begun = chain.begin("after_cleaning")
    chain.serial()
    seen = chain.find(part, finding, [tablet.photo(f"{part} {finding}", "finding")], since="new", **more)
    parts, channels = route("after_cleaning")
    left = [{"part": each, "reason": "held_at_once"} for each in [*parts, *channels] if each != part]
    chain.conclude("nothing", "hold", left=left)
    assert {row["verdict"] for row in tablet.send()} == {"counted"}
    tablet.put_photos()
    return begun, seen


def hold(server: WholeServer) -> str:
    return str(server.desk.lead("today")["holds"][-1]["hold"])


def told(server: WholeServer, of: str) -> dict[str, Any]:
    return server.desk.lead(f"holds/{of}")


def write(tablet: SinkTablet, kind: str, body: dict[str, object]) -> str:
    """An entry about the scope, outside of any inspection, and sent."""
    entry = tablet.chain.write(kind, body, inspection=False)
    assert tablet.send()[-1]["verdict"] == "counted"
    return entry


def cards(tablet: SinkTablet) -> dict[str, Any]:
    answer = tablet.browser.get("/cards?since=0&epoch=")
    assert answer.status_code == 200
    return dict(answer.json())


def switch_on(server: WholeServer) -> None:
    policy = json.loads(POLICY_TEXT)
    policy["second_opinion"]["on"] = True
    body = {"text": json.dumps(policy), "reason": "observers differ"}
    assert server.desk.command("policy.set", body).status_code == 201


def test_a_word_by_phone_lifts_nothing_until_a_lead_confirms_it_with_it_before_them(server: WholeServer) -> None:
    held(server.desk)
    of, sink = hold(server), server.tablet()
    call = {"hold": of, "goes": "on", "first": "nothing", "words": WORDS}
    phone = {"who": server.lead, "at": "2026-03-02T07:58:00.000+01:00"}
    phoned = write(sink, "hold.phoned", call | {"phone": phone})

    assert told(server, of)["by_phone"] == [phoned]
    assert told(server, of)["said"][0]["said"] == {name: call[name] for name in ("goes", "first", "words")} | {
        "phone": phone
    }
    assert server.desk.lead("today")["holds"][-1]["phoned"] == ["on"]
    row = next(row for row in server.desk.lead("shift")["rows"] if row["sort"] == "hold")
    assert row["state"] == "open" and row["about"]["phoned"] == ["on"]
    carried = next(card for card in cards(sink)["holds"] if card["hold"] == of)
    assert carried["decided"] is False and [each["who"] for each in carried["phoned"]] == [server.lead]

    decision = {"hold": of, "goes": "on", "first": "nothing", "reason": "as I said by phone"}
    unseen = server.desk.command("hold.decided", decision, {"scope": C14})
    assert (unseen.status_code, code_of(unseen)) == (409, "changed_meanwhile")
    assert server.desk.command("hold.decided", decision | {"over": [phoned]}, {"scope": C14}).status_code == 201
    assert told(server, of)["by_phone"] == [] and not told(server, of)["hold"]["standing"]
    assert server.desk.lead("today")["holds"] == []


def test_a_word_by_phone_lets_nothing_go_that_nobody_may_let_go(server: WholeServer) -> None:
    held(server.desk, "lens", "lens_crack", grade="present")
    of, sink = hold(server), server.tablet()
    call = {"hold": of, "goes": "on", "first": "nothing", "words": WORDS}
    phoned = write(sink, "hold.phoned", call | {"phone": {"who": server.lead, "at": "2026-03-02T07:58:00.000+01:00"}})
    decision = {"hold": of, "goes": "on", "first": "nothing", "reason": WORDS, "over": [phoned]}
    refused = server.desk.command("hold.decided", decision, {"scope": C14})
    assert (refused.status_code, code_of(refused)) == (409, "nobody_may")
    assert server.desk.command("hold.decided", decision | {"goes": "hold"}, {"scope": C14}).status_code == 201
    assert told(server, of)["hold"]["standing"]


def test_it_is_brought_before_others_with_a_summary_and_their_answer_is_written_down(server: WholeServer) -> None:
    held(server.desk)
    of = hold(server)
    assert code_of(server.desk.command("hold.escalated", {"hold": of, "to": [], "words": "?"})) == "bad_body"
    asked = {"hold": of, "to": ["infection_prevention", "risk"], "words": "Used after it? Which cases?"}
    assert server.desk.command("hold.escalated", asked, {"scope": C14}).status_code == 201
    waits = told(server, of)["waits"]
    assert len(waits) == 1
    row = next(row for row in server.desk.lead("shift")["rows"] if row["sort"] == "hold")
    assert row["about"]["waits"] == ["infection_prevention", "risk"]

    page = server.desk.browser.get(f"/lead/holds/{of}/summary")
    assert page.status_code == 200
    for said in (
        "Colonoscope C-14", "2741906", "Infection prevention, risk management", "Used after it? Which cases?",
        "peeling coat", "Not looked", "On hold", of,
    ):  # fmt: skip
        assert said in page.text, said
    # 21 CFR 803.10 and 803.18: the dates that might run; how they are counted is held in test_duties.
    duties = told(server, of)["duties"]
    aware = date.fromisoformat(duties["aware"])
    assert (duties["report_by"], duties["keep_until"]) == (
        duties_of(aware).report_by.isoformat(), duties_of(aware).keep_until.isoformat(),
    )  # fmt: skip
    for said in ("aware", "report_by", "keep_until", "source"):
        assert duties[said] in page.text, said
    pdf = server.desk.browser.get(f"/lead/holds/{of}/summary.pdf?sheet=letter")
    assert pdf.status_code == 200
    reader = PdfReader(io.BytesIO(pdf.content))
    assert len(reader.pages) == 1
    # ANSI/ASME Y14.1 Letter: 8.5 x 11 in, 72 points an inch.
    assert [round(float(each)) for each in reader.pages[0].mediabox[2:]] == [612, 792]

    answer = {"hold": of, "over": waits, "by": "Infection prevention, on call", "words": "No case since. Repair it."}
    assert server.desk.command("hold.advised", answer, {"scope": C14}).status_code == 201
    assert told(server, of)["waits"] == []
    again = server.desk.command("hold.advised", answer, {"scope": C14})
    assert (again.status_code, code_of(again)) == (409, "changed_meanwhile")
    life = next(row for row in server.desk.lead(f"history?key={C14}")["rows"] if row["what"] == "hold")
    assert [each["what"] for each in life["said"]] == ["escalated", "advised"]


def test_a_hidden_photo_is_on_no_summary(server: WholeServer) -> None:
    held(server.desk)
    of = hold(server)
    shown = server.desk.browser.get(f"/lead/holds/{of}/summary").text
    named = [each for each in server.desk.chain.lines if b'"shows":"finding"' in each]
    sha256 = json.loads(named[-1])["photos"][0]["sha256"]
    assert sha256 in shown
    assert server.desk.command("photo.hidden", {"photo": sha256}, {"scope": C14}).status_code == 201
    page = server.desk.browser.get(f"/lead/holds/{of}/summary").text
    assert sha256 not in page and "peeling coat" in page


def test_work_is_asked_of_somebody_and_settled_by_them_alone(server: WholeServer) -> None:
    begun, _ = held(server.desk)
    sink, other = server.tablet("Sink 2"), server.tablet("Sink 3")
    wish = {
        "what": "look_again",
        "of": begun,
        "parts": ["tube_2"],
        "reason": "in better light",
        "to": sink.chain.person,
    }
    asked = server.desk.command("work.asked", wish, {"scope": C14})
    assert asked.status_code == 201
    entry = asked.json()["hash"]
    assert [card["asked"] for card in cards(sink)["asked"]] == [entry]
    assert any(row["sort"] == "asked" and row["of"] == entry for row in server.desk.lead("shift")["rows"])

    write(other, "work.answered", {"asked": entry, "did": "done"})
    [row] = told(server, hold(server))["asked"]
    assert row["open"] and [each["counts"] for each in row["answers"]] == [False]

    mine = write(sink, "work.answered", {"asked": entry, "did": "done", "words": "seen under the ring light"})
    [row] = told(server, hold(server))["asked"]
    assert not row["open"] and sorted(each["counts"] for each in row["answers"]) == [False, True]
    assert cards(sink)["asked"] == []
    write(sink, "entry.withdrawn", {"entry": mine})
    assert told(server, hold(server))["asked"][0]["open"]
    assert server.desk.command("work.dropped", {"asked": entry, "reason": "gone to repair"}).status_code == 201
    assert cards(sink)["asked"] == []


def test_an_entry_is_corrected_by_its_author_and_nobody_is_asked_who_is_not_here(server: WholeServer) -> None:
    sink = server.tablet()
    _, seen = held(sink)
    wish = {"what": "correct", "of": seen, "reason": "the grade"}
    assert server.desk.command("work.asked", wish, {"scope": C14}).status_code == 201
    assert told(server, hold(server))["asked"][0]["to"] == sink.chain.person
    stranger = server.desk.command("work.asked", wish | {"what": "look_again", "to": "p_nobody"}, {"scope": C14})
    assert (stranger.status_code, code_of(stranger)) == (409, "nobody_such")


def test_second_opinions_are_off_as_they_come(server: WholeServer) -> None:
    _, seen = held(server.desk)
    wish = {"what": "second_opinion", "of": seen, "reason": "how deep?"}
    refused = server.desk.command("work.asked", wish, {"scope": C14})
    assert (refused.status_code, code_of(refused)) == (409, "not_on")
    assert told(server, hold(server))["second_opinion"] is False


def test_a_second_reader_is_told_nothing_of_the_first_and_the_first_may_not_answer(server: WholeServer) -> None:
    first, second = server.tablet("Sink 2"), server.tablet("Sink 3")
    _, seen = held(first, grade="moderate")
    switch_on(server)
    wish = {"what": "second_opinion", "of": seen, "reason": "how deep?"}
    barred = server.desk.command("work.asked", wish | {"to": first.chain.person}, {"scope": C14})
    assert (barred.status_code, code_of(barred)) == (409, "the_same")
    entry = server.desk.command("work.asked", wish, {"scope": C14}).json()["hash"]

    [card] = cards(second)["asked"]
    assert card["parts"] == ["tube_2"] and len(card["photos"]) == 1 and card["not_by"] == [first.chain.person]
    assert (
        seen not in json.dumps(card) and "peeling_coat" not in json.dumps(card) and "moderate" not in json.dumps(card)
    )
    assert told(server, hold(server))["asked"][0]["first"] is None

    write(first, "work.answered", {"asked": entry, "did": "seen", "finding": "peeling_coat", "grade": "moderate"})
    assert told(server, hold(server))["asked"][0]["open"]
    write(second, "work.answered", {"asked": entry, "did": "seen", "finding": "peeling_coat", "grade": "minor"})
    [row] = told(server, hold(server))["asked"]
    assert not row["open"]
    assert row["first"] == {"finding": "peeling_coat", "grade": "moderate", "person": first.chain.person}
    assert {each["grade"]: each["counts"] for each in row["answers"]} == {"moderate": False, "minor": True}


def test_a_photo_that_was_hidden_since_is_shown_to_no_second_reader(server: WholeServer) -> None:
    first, second = server.tablet("Sink 2"), server.tablet("Sink 3")
    _, seen = held(first)
    switch_on(server)
    assert server.desk.command(
        "work.asked", {"what": "second_opinion", "of": seen, "reason": "?"}, {"scope": C14}
    ).is_success
    [photo] = cards(second)["asked"][0]["photos"]
    assert server.desk.command("photo.hidden", {"photo": photo}, {"scope": C14}).status_code == 201
    assert cards(second)["asked"][0]["photos"] == []


def test_a_deputy_decides_a_hold_and_closes_a_shift_and_changes_no_policy(server: WholeServer) -> None:
    held(server.desk)
    of = hold(server)
    deputy = server.stranger("Desk 2").enrol(server.desk.invite("Desk 2", "Harrow Lake"))
    person = server.desk.add_person("Jo Marlow", ["deputy"], "482913")
    assert deputy.browser.sign_in(person, "482913").status_code == 200
    decision = {"hold": of, "goes": "on", "first": "nothing", "reason": WORDS}
    assert deputy.command("hold.decided", decision, {"scope": C14}).status_code == 201
    refused = deputy.command("policy.set", {"text": POLICY_TEXT, "reason": "no"})
    assert (refused.status_code, code_of(refused)) == (403, "not_your_part")
    assert "policy.set" not in DEPUTY_KINDS
    shift = next(iter(deputy.lead("today")["shifts"]))
    closed = deputy.command("shift.closed", {"meaning": "for_another"}, {"shift": shift})
    assert closed.status_code == 201
