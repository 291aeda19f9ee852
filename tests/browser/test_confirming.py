"""Confirming by keys alone in a real browser, the same evidence once for all, and passages cut by hand; wide and narrow."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from archive.app import Archive
from tests.browser.conftest import Visitor
from tests.browser.test_access import _check
from tests.webui.town import EDITOR


def _asked(page: Page) -> str:
    return page.locator("#answer input[name=tag]").get_attribute("value") or ""


def _pressed(page: Page, key: str) -> None:
    """A key that goes to the next page."""
    with page.expect_event("load"):
        page.keyboard.press(key)


def test_an_hour_by_keys(visit: Visitor, archive: Archive) -> None:
    visitor = visit(EDITOR.name, 390)
    page = visitor.go("/confirm?kind=place")
    _check(page, "a suggestion")
    offered, number = archive.confirming.waiting(EDITOR, kind="place")
    ids = [f"{one.tag.tag_id} {one.seen}" for one in offered]
    assert number > 2 and _asked(page) == ids[0]
    _pressed(page, "y")
    assert _asked(page) == ids[1]
    _pressed(page, "n")
    _pressed(page, "s")
    expect(page.get_by_text("2 decided by you within the hour")).to_be_visible()
    assert [d.state for d in archive.confirming.page(EDITOR).decided] == ["rejected", "confirmed"]
    page.keyboard.press("o")
    page.keyboard.type("Nowhere")  # letters are for typing here: no key of the page
    _pressed(page, "Enter")
    expect(page.get_by_role("alert")).to_contain_text("no such place on record")
    page.fill("#value", "Net Row")
    _pressed(page, "Enter")
    page.evaluate("document.activeElement.blur()")
    _check(page, "with what was decided")
    for _ in range(3):
        _pressed(page, "u")
    expect(page.locator(".hour li")).to_have_count(0)
    assert archive.confirming.waiting(EDITOR, kind="place")[1] == number
    page.locator("#keys button").first.click()  # another key for yes
    page.keyboard.press("j")
    was = _asked(page)
    page.keyboard.press("y")
    assert _asked(page) == was
    _pressed(page, "j")
    assert archive.confirming.waiting(EDITOR, kind="place")[1] == number - 1
    assert all("400" in c for c in visitor.complaints), visitor.complaints  # the place that is none, which Chromium notes itself


def test_the_same_evidence_is_shown_before_it_is_decided(visit: Visitor, archive: Archive) -> None:
    one = archive.confirming.waiting(EDITOR, kind="place")[0][0]
    visitor = visit(EDITOR.name, 390)
    page = visitor.go(f"/confirm/{one.tag.tag_id}/same")
    _check(page, "the same evidence")
    assert page.locator("input[name=place]:checked").count() == 0, "nothing is chosen unseen"
    page.keyboard.press("c")
    expect(page.locator("#count")).to_contain_text("1 of")
    page.get_by_role("button", name="Yes, confirm it there").click()
    expect(page.get_by_role("status").first).to_contain_text("1 suggestion decided: confirmed")
    assert visitor.complaints == []


def test_a_passage_is_split_and_joined_again(visit: Visitor, archive: Archive) -> None:
    visitor = visit(EDITOR.name, 390)
    page = visitor.go("/recordings/TW-01.1?passages=cut")
    before = page.locator(".edge.begins").count()
    page.get_by_role("button", name="Begin a passage here").last.click()
    expect(page.locator(".edge.begins")).to_have_count(before + 1)
    _check(page, "passages")
    page.get_by_role("button", name="Join with passage").last.click()
    expect(page.locator(".edge.begins")).to_have_count(before)
    page.get_by_role("button", name="Undo: joined").click()
    page.get_by_role("button", name="Undo: split").click()
    expect(page.locator(".edge.begins")).to_have_count(before)
    assert archive.cutting.passages(EDITOR, "TW-01.1").newest == "" and visitor.complaints == []
