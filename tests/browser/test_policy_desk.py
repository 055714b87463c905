"""The policy on the lead's desk: every row in words, and a row's answer changed with a reason."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from browser.conftest import settled
from browser.eyes import keep_picture
from browser.sink import PORTRAIT, Sink
from playwright.sync_api import expect

pytestmark = [pytest.mark.breadth, pytest.mark.shift]


def test_a_lead_reads_the_policy_and_makes_one_row_stricter(own_sink: Sink, screens: Path) -> None:
    hands = own_sink.tablet(person="Moira Keld", camera="none")
    page = hands.page
    rows = own_sink.lead().get("/lead/policy")["rows"]
    page.evaluate("location.hash = '#/desk/policy'")
    expect(page.get_by_role("heading", level=1)).to_have_text(f"{len(rows)} rows of the policy")
    table = page.get_by_role("list", name="Policy", exact=True)
    expect(table.get_by_role("listitem")).to_have_count(len(rows))
    assert table.inner_text().count("Source:") == len(rows)
    settled(page)
    keep_picture(page, screens / "desk-policy.png")

    row = table.get_by_role("button", name=re.compile("^Soil goes back to cleaning"))
    row.click()
    expect(page.get_by_role("button", name=re.compile("^Change this row"))).to_have_attribute("aria-disabled", "true")
    page.get_by_role("radiogroup", name="Where it goes").get_by_role("radio", name="Hold").click()
    expect(page.get_by_text("This is stricter than before.")).to_be_visible()
    page.get_by_label("Why, in words").fill("three returns in a week")
    keep_picture(page, screens / "desk-policy-change.png")
    page.get_by_role("button", name="Change this row").click()
    expect(row).to_contain_text("Set by Moira Keld")
    expect(row).to_contain_text("three returns in a week")
    changed = {each["id"]: each for each in own_sink.lead().get("/lead/policy")["rows"]}["soil_again"]
    assert (changed["goes"], changed["set"]["person"]) == ("hold", "moira.keld")

    second = page.get_by_role("list", name="Second opinions").get_by_role("button")
    expect(second).to_contain_text("Off")
    second.click()
    expect(page.get_by_text("Nothing drawn was read twice yet.")).to_be_visible()
    page.get_by_role("radiogroup", name="Second opinions").get_by_role("radio", name="On").click()
    page.get_by_label("Of 100 inspections").fill("101")
    expect(page.get_by_role("button", name=re.compile("^Change this"))).to_contain_text("a whole number from 0 to 100")
    page.get_by_label("Of 100 inspections").fill("20")
    page.get_by_label("Why, in words").fill("observers differ")
    page.get_by_role("button", name="Change this").click()
    expect(second).to_contain_text("On, 20 of 100 inspections drawn")
    expect(second).to_contain_text("Set by Moira Keld")
    now = own_sink.lead().get("/lead/policy")["second_opinion"]
    assert (now["on"], now["share_percent"], now["set"]["reason"]) == (True, 20, "observers differ")

    days = page.get_by_role("list", name="Cleanings counted over all cycles").get_by_role("button")
    expect(days).to_contain_text("90 days")
    days.click()
    page.get_by_label("Days", exact=True).fill("30")
    page.get_by_label("Why, in words").fill("three returns a month")
    page.get_by_role("button", name="Count over these days").click()
    expect(days).to_contain_text("30 days")
    expect(days).to_contain_text("three returns a month")

    table.get_by_role("button", name=re.compile("^A failed leak test goes to repair")).click()
    page.get_by_role("radiogroup", name="Where it goes").get_by_role("radio", name="Hold").click()
    expect(page.get_by_role("button", name=re.compile("^Change this row"))).to_contain_text(
        "nobody makes this row laxer"
    )
    page.set_viewport_size(PORTRAIT)  # type: ignore[arg-type]
    keep_picture(page, screens / "desk-policy-portrait.png")
