"""Second opinions drawn by chance: who is asked, about what, and what nobody is told; over HTTP on a whole server.

That a sample is read twice and blind is common practice where pictures are judged (three readers graded the videos of
Gastrointest Endosc 2018); the share is the facility's. The draw itself is checked against the system's own hash tool in
`tests/vectors/test_agreement.py`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from loupebook.installation import _now_ms
from loupebook.reading.agreement import agreement_page
from loupebook.record.hashes import text_hash
from loupebook.rules.second import is_drawn, turn_of
from loupebook.second_opinions import NOT_IN_TIME, WAIT_MS, SecondOpinions
from sink_tablet import SinkTablet
from story import C14, POLICY_TEXT, Writer, lead_sources, route, taken
from whole_server import WholeServer

pytestmark = [pytest.mark.repair, pytest.mark.shift]


def write(tablet: SinkTablet, kind: str, body: dict[str, object]) -> str:
    """An entry about the scope, outside of any inspection, and sent."""
    entry = tablet.chain.write(kind, body, inspection=False)
    assert tablet.send()[-1]["verdict"] == "counted"
    return entry


def cards(tablet: SinkTablet) -> dict[str, dict[str, Any]]:
    """What people are asked, as a tablet hears it, by the entry that asks."""
    answer = tablet.browser.get("/cards?since=0&epoch=")
    assert answer.status_code == 200
    return {card["asked"]: card for card in answer.json()["asked"]}


class House(WholeServer):
    """A whole server with a tablet at which a technician looks, and another for whoever reads a second time."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        described = {"scope_kind": "colonoscope", "serial": "2741906", "di": "51022222233336", "tag": "C-14"}
        assert self.desk.command("scope.described", described, {"scope": C14}).status_code == 201
        self.first, self.second = self.tablet("Sink 2"), self.tablet("Sink 3")

    def set(self, on: bool = True, share: int = 100) -> str:
        """A lead sets it; the hash of the policy with which tablets begin from then on."""
        policy = json.loads(POLICY_TEXT)
        policy["second_opinion"] |= {"on": on, "share_percent": share}
        text = json.dumps(policy)
        assert self.desk.command("policy.set", {"text": text, "reason": "observers differ"}).status_code == 201
        return text_hash(text)

    def inspect(self, policy: str, seen: dict[str, str | None], put: bool = True, **more: Any) -> tuple[str, str]:
        """An inspection with a photo of each of these parts and what was found there; its beginning and its end."""
        tablet, chain = self.first, self.first.chain
        begun = chain.begin("after_cleaning", policy=policy)
        chain.serial()
        for part, finding in seen.items():
            words = f"{part} of {begun[:8]}"
            if finding is None:
                chain.mark(part)
                chain.write("photo.added", {"part": part}, [tablet.photo(words)])
            else:
                chain.find(part, finding, [tablet.photo(words, "finding")], **more)
        parts, channels = route("after_cleaning")
        left = [{"part": each, "reason": "held_at_once"} for each in [*parts, *channels] if each not in seen]
        end = chain.conclude("nothing", "hold", left=left)
        assert {row["verdict"] for row in tablet.send()} == {"counted"}
        if put:
            tablet.put_photos()
        return begun, end

    def drawn(self) -> dict[str, tuple[str, dict[str, Any]]]:
        """By the end it was drawn by, what the server asked until now, hash and entry: all that came has been drawn of
        when this returns."""
        self.settled()
        self.here.seconds.counted(0)
        return {entry["body"]["drawn"]: (asked, entry) for asked, entry in self.entries("work.asked").items()}

    def entries(self, kind: str) -> dict[str, dict[str, Any]]:
        """What the server wrote by itself."""
        with self.here.log.reading() as connection:
            rows = connection.exec_driver_sql(f"SELECT hash, line FROM log_entries WHERE kind = '{kind}' ORDER BY seq")
            every = {str(hash): json.loads(line) for hash, line in rows}
        return {hash: entry for hash, entry in every.items() if entry["person"] == "server"}


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """One for all: each test asks about inspections of its own."""
    house = House(tmp_path_factory.mktemp("seconds"))
    yield house
    house.close()


def test_of_an_inspection_with_a_finding_the_photos_are_asked_about_and_not_what_was_said(house: House) -> None:
    begun, end = house.inspect(house.set(), {"lens": None, "tube_2": "peeling_coat"}, grade="moderate")
    events = house.desk.browser.http.stream("GET", "/lead/changes", headers=house.desk.browser.headers())
    with events as told:  # by itself: nobody asked the server to draw
        for line in told.iter_lines():
            if line.startswith("data:") and house.entries("work.asked"):
                break
    asked, entry = house.drawn()[end]
    assert (entry["person"], entry["proof"], entry["about"]) == (
        "server", {"how": "named", "where": "online"}, {"scope": C14},
    )  # fmt: skip
    assert entry["body"]["first"] == [{"finding": "peeling_coat", "grade": "moderate"}]
    assert entry["body"]["not_by"] == [house.first.chain.person]

    card = cards(house.second)[asked]
    assert (card["what"], card["drawn"], card["parts"], card["to"]) == ("second_opinion", True, ["tube_2"], None)
    assert len(card["photos"]) == 1 and card["not_by"] == [house.first.chain.person]
    said = json.dumps(card)
    assert all(word not in said for word in ("peeling_coat", "moderate", begun, end, str(entry["body"]["of"])))
    # No shift waits for what chance asked.
    assert not any(row["sort"] == "asked" for row in house.desk.lead("shift")["rows"])

    # Whoever wrote of the inspection is no second reader, and the first word stays as it was when it was asked for.
    write(house.first, "work.answered", {"asked": asked, "did": "seen", "finding": "peeling_coat", "grade": "moderate"})
    assert asked in cards(house.second)
    house.first.chain.begun = begun
    house.first.chain.correct(
        entry["body"]["of"], {"part": "tube_2", "finding": "scratch", "grade": "minor", "since": "new"}
    )
    assert house.first.send()[-1]["verdict"] == "counted"
    write(house.second, "work.answered", {"asked": asked, "did": "seen", "finding": "peeling_coat", "grade": "minor"})
    assert asked not in cards(house.second)
    assert house.drawn()[end] == (asked, entry)


def test_of_one_without_a_finding_it_is_a_photo_of_a_part_that_chance_picks(house: House) -> None:
    seen: dict[str, str | None] = dict.fromkeys(("lens", "tube_2", "band_tip"))
    _, end = house.inspect(house.set(), seen)
    _, entry = house.drawn()[end]
    assert entry["body"]["parts"] == [min(seen, key=lambda part: turn_of(end, part))]
    assert entry["body"]["first"] == [] and len(entry["body"]["photos"]) == 1


@pytest.mark.parametrize(("on", "share"), [(False, 100), (True, 0)])
def test_nothing_is_drawn_where_it_is_off_or_the_share_is_none(house: House, on: bool, share: int) -> None:
    _, end = house.inspect(house.set(on, share), {"lens": "lens_crack"}, grade="present")
    assert end not in house.drawn()
    house.set(True, 100)  # what began before keeps the policy it began with
    assert end not in house.drawn()


def test_switched_off_since_nothing_more_is_asked(house: House) -> None:
    _, end = house.inspect(house.set(), {"lens": None}, put=False)
    house.set(on=False)
    house.first.put_photos()
    assert end not in house.drawn()
    house.set()
    assert end in house.drawn()


def test_nothing_is_asked_that_a_photo_does_not_show(house: House) -> None:
    """A number on a label, a part nobody could look at, a photo that is hidden, a finding that was taken back."""
    policy, tablet, chain = house.set(), house.first, house.first.chain
    _, label = house.inspect(policy, {"lens": "process_unknown"}, grade="present")
    chain.begin("after_cleaning", policy=policy)
    chain.serial()
    chain.mark("lens", mark="could_not_look", reason="too_dark")
    chain.write("photo.added", {"part": "lens"}, [tablet.photo("dark")])
    chain.withdraw(chain.find("tube_2", "peeling_coat", [tablet.photo("coat", "finding")]))
    hidden = tablet.photo("somebody")
    chain.mark("band_tip")
    chain.write("photo.added", {"part": "band_tip"}, [hidden])
    chain.write("photo.restricted", {"photo": hidden["sha256"]})
    parts, channels = route("after_cleaning")
    left = [
        {"part": each, "reason": "held_at_once"} for each in [*parts, *channels] if each not in ("lens", "band_tip")
    ]
    end = chain.conclude("nothing", "hold", left=left)
    assert {row["verdict"] for row in tablet.send()} == {"counted"}
    tablet.put_photos()
    assert not {label, end} & house.drawn().keys()


def test_a_lead_cannot_pass_a_wish_of_their_own_off_as_drawn(house: House) -> None:
    tablet = house.first
    _, end = house.inspect(house.set(share=0), {"tube_2": "peeling_coat"}, grade="minor")
    seen = tablet.chain.hashes[-2]
    wish = {"what": "second_opinion", "of": seen, "reason": "how deep?", "drawn": end, "first": []}
    house.settled()
    asked = house.desk.command("work.asked", wish, {"scope": C14}).json()["hash"]
    card = cards(house.second)[asked]
    assert card["drawn"] is False and card["person"] == house.lead


def test_what_nobody_gives_in_two_weeks_is_asked_for_no_more(house: House) -> None:
    _, end = house.inspect(house.set(), {"lens": None})
    asked, _ = house.drawn()[end]
    before = house.entries("work.dropped")
    house.here.seconds = SecondOpinions(house.here.log, house.here.policy, lambda: _now_ms() + WAIT_MS)
    house.drawn()
    dropped = [entry["body"] for hash, entry in house.entries("work.dropped").items() if hash not in before]
    assert {"asked": asked, "reason": NOT_IN_TIME} in dropped
    assert not any(card["drawn"] for card in cards(house.second).values())


def test_exactly_those_are_drawn_whose_hash_says_so_whenever_they_came_and_once(house: House) -> None:
    """The last one: the server starts anew, at another address."""
    policy = house.set(share=50)
    ends = {house.inspect(policy, {"lens": None}, put=False)[1] for _ in range(6)}
    assert not ends & house.drawn().keys()  # their photos are still on the tablet
    seconds = house.here.seconds
    house.here.seconds = type(seconds)(house.here.log, lambda _: {}, lambda: 0)  # off, as far as this one knows
    house.first.put_photos()
    assert not ends & house.drawn().keys()
    house.again()  # what was not asked then is asked by the next start, and what was asked is not asked again
    wanted = {end for end in ends if is_drawn(end, 50)}
    written = house.entries("work.asked")
    assert ends & {entry["body"]["drawn"] for entry in written.values()} == wanted
    house.again()
    house.drawn()
    assert house.entries("work.asked") == written


# ---------------------------------------------------------------- how far they agree


class Pairs:
    """Any number of second opinions as rows: what the first said of a part, drawn, and what a second said of it."""

    def __init__(self) -> None:
        self.first, self.server, self.second = Writer("sink"), Writer("server", person="server"), Writer("other sink")
        self.second.person = "rin.oake"
        self.number = 0

    def add(self, first: str | None, second: str | None, grades: tuple[str, str] = ("minor", "minor"),
            drawn: bool = True, did: str = "seen") -> None:  # fmt: skip
        self.number += 1
        begun = self.first.begin()
        of = self.first.find("tube_2", first, grade=grades[0]) if first else self.first.mark("tube_2")
        said = [{"finding": first, "grade": grades[0]}] if first else []
        body = {"what": "second_opinion", "of": of, "reason": "?", "parts": ["tube_2"], "first": said}
        asked = self.server.write("work.asked", body | ({"drawn": begun} if drawn else {}))
        answer = {"finding": second, "grade": grades[1]} if second else {}
        self.second.write("work.answered", {"asked": asked, "did": did} | answer)

    def page(self) -> dict[str, Any]:
        tables = taken(self.first, self.server, self.second)
        with tables.reading() as connection:
            return dict(agreement_page(connection, lead_sources(tables)))


def test_the_page_counts_what_chance_drew_and_leaves_out_what_a_lead_picked() -> None:
    """The table 40/9/6/45 and its kappa of 0.6995 are a textbook's (from memory), worked again in test_agreement."""
    pairs = Pairs()
    for times, first, second in (
        (40, "peeling_coat", "peeling_coat"), (9, "peeling_coat", None), (6, None, "peeling_coat"), (45, None, None),
    ):  # fmt: skip
        for _ in range(times):
            pairs.add(first, second)
    pairs.add("peeling_coat", "scratch", drawn=False)
    pairs.add("peeling_coat", None, did="not_done")
    page = pairs.page()
    assert page["seen"]["table"] == [[40, 9], [6, 45]]
    assert (page["seen"]["n"], page["seen"]["share"], round(page["seen"]["kappa"], 4)) == (100, 0.85, 0.6995)
    assert (page["drawn"], page["open"], page["by_lead"]) == (101, 0, 1)
    (people,) = page["people_pairs"]
    assert (people["first"], people["second"], people["table"]) == ("ila.venn", "rin.oake", [[40, 9], [6, 45]])
    assert len(page["differ"]) == 15
    # All that both named is of one grade: chance alone explains it, and no number is given.
    assert (page["grades"]["n"], page["grades"]["kappa"], page["grades"]["why"]) == (40, None, "undefined")


def test_grades_are_compared_where_both_name_the_same_and_it_has_grades() -> None:
    pairs = Pairs()
    pairs.add("scratch", "scratch", ("minor", "severe"))
    pairs.add("scratch", "scratch", ("moderate", "moderate"))
    pairs.add("scratch", "peeling_coat", ("minor", "minor"))
    pairs.add("lens_crack", "lens_crack", ("present", "present"))
    page = pairs.page()
    assert page["grades"]["words"] == ("minor", "moderate", "severe")
    assert page["grades"]["table"] == [[0, 0, 1], [0, 1, 0], [0, 0, 0]]
    assert (page["both"], page["other_finding"]) == (4, 1)
    assert (page["grades"]["share"], page["grades"]["kappa"], page["grades"]["why"]) == (0.5, None, "too_few")
    told = [(row["first"][0], row["second"]["finding"], row["second"]["grade"]) for row in page["differ"]]
    assert sorted(told, key=repr) == [
        ({"finding": "scratch", "grade": "minor"}, "peeling_coat", "minor"),
        ({"finding": "scratch", "grade": "minor"}, "scratch", "severe"),
    ]


def test_nothing_drawn_gives_no_number() -> None:
    page = Pairs().page()
    assert (page["drawn"], page["seen"]["n"], page["seen"]["share"], page["seen"]["kappa"]) == (0, 0, None, None)
    assert page["people_pairs"] == [] and page["differ"] == []
