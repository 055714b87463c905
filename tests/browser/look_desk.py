"""The walk past every screen of the lead's desk: each page with what it opens, as it stands, nothing written but a
code, and the signs by which a piece without a frame of its own is seen."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

from browser.conftest import settled
from browser.eyes import Eyes
from browser.sink import BURST
from loupebook.rules.agreement import LEAST, agreement
from loupebook.trouble import OURS
from playwright.sync_api import Page

PIECES = {
    "lead/Agreement": "[data-agreement]",
    "lead/Backup": "[data-backup]",
    "lead/desk": "nav[aria-label='Parts of the desk']",
    "lead/EntryTable": "table",
    "lead/Field": "label:has-text('Name of this tablet')",
    "lead/FindingThenNow": "[data-then]",
    "lead/HistoryChart": "[data-chart]",
    "lead/HistoryCompare": "[data-compare]",
    "lead/ThenNowBoth": "[data-compare] .both",
    "lead/HoldFindings": "[data-findings]",
    "lead/HoldMore": "[data-more]",
    "lead/HoldSaid": "[data-said]",
    "lead/InspectionLine": "[data-root]",
    "lead/LeadPhoto": "figure img",
    "lead/PhotoHand": "text=Shows a person or patient data",
    "lead/Retention": "[data-retention]",
    "lead/RecleanDays": "[data-recleans]",
    "lead/SecondOpinions": "[data-second]",
    "lead/ShiftClosed": "[data-closed]",
    "lead/ShiftLines": "[data-lines]",
    "lead/ShiftLog": "[data-log]",
    "lead/ShiftRow": "[data-sort]",
    "lead/ShiftSheet": "[data-sheet]",
    "lead/Signs": ".say",
    "lead/TakeIn": "text=A tablet that cannot send",
}
JSON_OF_OURS = {**OURS, "Content-Type": "application/json"}
Go = Callable[[str], Page]


def agreement_said() -> str:
    """An answer of `GET /lead/agreement` with everything in it: real ones take weeks to fill."""

    def told(*table: list[int]) -> dict[str, object]:
        return {"table": table} | asdict(agreement(table))

    grown = {"finding": "peeling_coat", "grade": "minor"}
    scope = {"key": "C-14", "tag": "C-14", "kind": "colonoscope", "serial": "2741906"}
    differs = {
        "asked": "0" * 64, "at": "2026-03-02T07:58:00.000Z", "scope": scope, "part": "tube_2", "root": "0" * 64,
        "first_person": "ila.venn", "first": [grown], "second_person": "rin.oake",
        "second": {"finding": None, "grade": None, "words": "a reflex, I think"},
    }  # fmt: skip
    people = [{"id": id, "name": name, "initials": "", "roles": ["technician"]}
              for id, name in (("ila.venn", "Ila Venn"), ("rin.oake", "Rin Oake"))]  # fmt: skip
    return json.dumps({
        "position": 1, "least": LEAST, "drawn": 104, "open": 3, "by_lead": 2, "both": 80, "other_finding": 4,
        "seen": told([80, 10], [5, 5]),
        "grades": told([40, 6, 0], [5, 20, 2], [0, 1, 2]) | {"words": ["minor", "moderate", "severe"]},
        "people_pairs": [told([8, 1], [0, 4]) | {"first": "ila.venn", "second": "rin.oake"}],
        "differ": [differs], "people": people,
    })  # fmt: skip


def past_every_screen(go: Go, whole: str, hold: str, scope: str, folder: Path, eyes: Eyes) -> None:
    """`whole` is an inspection with findings, photos and readings, `hold` one that waits, `scope` a scope's key."""
    page = go("")

    def tap(name: str | re.Pattern[str], nth: int = 0) -> None:
        page.get_by_role("button", name=name).nth(nth).click()
        settled(page)

    eyes.at(page, "desk-today")
    go(f"/inspection?root={whole}")
    page.locator("figure img").first.wait_for()
    eyes.at(page, "desk-inspection")
    tap("See it large", 1)
    page.locator(".hash").wait_for()
    eyes.at(page, "desk-photo")
    tap("Close the large photo")
    page.locator("article", has_text="peeling coat").get_by_role("button", name="Then and now").click()
    page.locator("[data-then] [data-beside] img").nth(1).wait_for()
    eyes.at(page, "desk-then-now")
    tap("Every entry")
    eyes.at(page, "desk-entries")
    go(f"/hold?hold={hold}")
    page.locator("[data-findings]").wait_for(state="attached")
    page.get_by_role("radio", name="On to disinfection").click()
    eyes.at(page, "desk-hold")
    tap("Bring it before others")
    eyes.at(page, "desk-hold-more")
    go("")
    tap(re.compile("^Close "))
    page.locator("[data-lines]").wait_for()
    eyes.at(page, "desk-shift")
    tap(re.compile("^Other answer"))
    eyes.at(page, "desk-shift-answer")
    # A shift of another day: closing it leaves the one that runs as it was.
    go("/closing?name=Decontamination/2001-01-01/day")
    tap(re.compile("^Close the shift"))
    eyes.at(page, "desk-shift-sign")
    tap(re.compile("^Sign and close"))
    page.locator("[data-closed]").wait_for()
    eyes.at(page, "desk-shift-closed")
    go("/aside")
    eyes.at(page, "desk-aside")
    tap("the person's role does not write this", -1)
    eyes.at(page, "desk-aside-settle")
    go("/where")
    eyes.at(page, "desk-where")
    go("/labels")
    page.get_by_role("group", name="Scopes", exact=True).get_by_role("button").first.click()
    eyes.at(page, "desk-labels")
    page.get_by_role("radio", name="Places").click()
    page.get_by_label("Places, one a line").fill("Cabinet 2, shelf 3")
    tap("Add these places")
    eyes.at(page, "desk-labels-places")
    go("/repairs")
    eyes.at(page, "desk-repairs")
    go(f"/repairs?scope={scope}")
    page.get_by_label("Why, in words").wait_for()
    eyes.at(page, "desk-repair-new")
    go("/stations")
    eyes.at(page, "desk-stations")
    tap(re.compile("^Sink 2"))
    eyes.at(page, "desk-station")
    go("")
    go("/stations")
    tap("Enrol another tablet")
    eyes.at(page, "desk-enrol")
    page.get_by_label("Name of this tablet").fill("Sink 8")
    place = page.get_by_label("Place, for")
    if place.count() == 1:
        place.fill("Decontamination")
    tap("Make the code")
    page.locator("[data-code]").wait_for()
    eyes.at(page, "desk-enrol-code")
    go("/people")
    eyes.at(page, "desk-people")
    tap("Ila Venn")
    eyes.at(page, "desk-person")
    go("")
    go("/people")
    tap("Add a person")
    eyes.at(page, "desk-person-new")
    go("/codes")
    eyes.at(page, "desk-codes")
    go("/policy")
    tap(re.compile("^Cleanings counted"))
    page.locator(".seen").evaluate("(list) => { list.scrollTop = 0; }")
    eyes.at(page, "desk-policy")
    tap(re.compile("^Soil goes back to cleaning"))
    # The list is longer than the screen, and where the tap's own scrolling left it is chance: looked at from its top.
    page.locator(".seen").evaluate("(list) => { list.scrollTop = 0; }")
    eyes.at(page, "desk-policy-row")
    page.context.route("**/lead/agreement", lambda route: route.fulfill(body=agreement_said(), headers=JSON_OF_OURS))
    tap(re.compile("^Second opinions"))
    page.get_by_role("heading", name="Where the two differ").wait_for()
    eyes.at(page, "desk-second")
    page.context.unroute("**/lead/agreement")
    tap("Help")
    page.get_by_role("heading", name="Policy", level=1).wait_for()
    eyes.at(page, "desk-help")
    go("/examples")
    eyes.at(page, "desk-examples")
    go("/facility")
    eyes.at(page, "desk-facility")
    go("/scopes")
    eyes.at(page, "desk-scopes")
    go(f"/scope?key={scope}")
    page.get_by_label("Title or number").wait_for()
    eyes.at(page, "desk-scope")
    # A keyboard reader is heard on the list of today, no field first: the scope's whole life opens.
    go("")
    page.evaluate(BURST, "015102222223333621" + scope.rsplit("/", 1)[1])
    page.locator("[data-last]").wait_for()
    go("/find?point=after_cleaning")
    page.locator("[data-found] button").first.wait_for()
    eyes.at(page, "desk-find")
    # A reader of codes types and presses Enter: the scope's whole life, in one step.
    page.get_by_label("Tag, serial number or code").fill(scope)
    page.keyboard.press("Enter")
    page.locator("[data-last]").wait_for()
    page.locator("select").select_option(index=1)
    page.locator("[data-through] figure").first.wait_for()
    for number in (0, 1):
        page.locator("[data-through]").get_by_role("button", name=re.compile("^Compare")).nth(number).click()
    page.locator("[data-compare] img").nth(1).wait_for()
    eyes.at(page, "desk-history")
    go("/bring?what=scopes")
    eyes.at(page, "desk-bring")
    rows = folder / "scopes.csv"
    rows.write_text(
        "Facility tag;Kind of scope;Maker;Model;Serial number;UDI or DI;Working length mm\n"
        "C-21;Colonoscope;Alder;CX 180;2741921;51022222233336;1680\n"
        "C-22;Colonscope;Alder;CX 180;2741922;51022222233336;1680\n"
        "C-23;Colonoscope;Alder;CX 180;2741923;51022222233337;1680\n",
        "utf-8",
    )
    page.get_by_label("Choose a file").set_input_files(rows)
    settled(page)
    page.locator("li[data-fate]").first.wait_for()
    eyes.at(page, "desk-bring-dry")
    go("/bring?what=people")
    eyes.at(page, "desk-bring-people")
    go("")
    tap("Moira Keld, lead")
    eyes.at(page, "desk-sign-in")
    tap("Back")
