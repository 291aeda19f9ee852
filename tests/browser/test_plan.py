"""The plan and the pages of the gazetteer in a real Chromium: from a point to the passages to Find, at a desk's and a telephone's width."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import expect

from archive.app import Archive
from tests import cast
from tests.browser.conftest import Visitor
from tests.browser.test_access import _check
from tests.webui.town import EDITOR

SHEET = Path(__file__).resolve().parents[2] / "sample_media" / "places.csv"


def test_from_a_point_of_the_plan_to_find(visit: Visitor, archive: Archive) -> None:
    archive.places.read(EDITOR, SHEET)
    cast.give_words(archive, "TW-06.1", [("N-06", cast.words_of("we stood on the Farry Slip then"))])
    number = next(r.passages for r in archive.places.page(EDITOR).rows if r.place.name == "Net Row")
    narrow = visit(EDITOR.name, width=390, height=800)
    page = narrow.go("/places")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    _check(page, "the plan at 390 px")
    wide = visit(EDITOR.name)
    page = wide.go("/places")
    _check(page, "the plan")
    assert page.locator(".plan .mark").count() == 14
    page.locator('.plan a[aria-label^="Net Row:"]').focus()
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Net Row")
    _check(page, "a place")
    page.get_by_role("button", name="Narrow it down in Find").click()
    expect(page.locator(".sum h2")).to_contain_text(f"{number} passage")
    _check(wide.go("/places/misheard"), "what sounds like a place")
    page.get_by_role("button", name="Yes, it is Ferry Slip").click()
    expect(page.locator(".note")).to_contain_text("kept as a mis-hearing")
    assert not wide.complaints and not narrow.complaints
