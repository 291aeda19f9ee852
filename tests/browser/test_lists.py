"""A list by keys and buttons, and the pages under Find: axe, narrow, on paper."""

from __future__ import annotations

from playwright.sync_api import expect

from archive.app import Archive
from tests.browser.conftest import Visitor
from tests.browser.test_access import check_folded_and_unfolded
from tests.webui.town import EDITOR


def test_kept_ordered_by_keys_and_undone(visit: Visitor, archive: Archive) -> None:
    one = visit(EDITOR.name)
    page = one.go("/find")
    page.fill("#words", "flood OR clock OR Quay")
    page.keyboard.press("Enter")
    page.wait_for_url("**/find/*")
    page.fill("#into-new", "The wall")
    page.get_by_role("button", name="Keep TW").first.click()
    page.wait_for_selector("text=It is in the list")
    assert page.locator("#into option:checked").inner_text() == "The wall", "the list used last is offered first"
    page.get_by_role("button", name="Keep TW").nth(1).click()
    page.wait_for_selector("text=in The wall >> nth=1")
    one.go("/find/lists/1")
    first, second = (i.id for i in archive.lists.page(EDITOR, 1).items)
    page.keyboard.press("n")
    page.keyboard.press("d")
    page.wait_for_url(f"**#item-{first}")
    expect(page.locator(f"#item-{first}")).to_be_focused()
    assert [i.id for i in archive.lists.page(EDITOR, 1).items] == [second, first]
    page.keyboard.press("u")
    expect(page.locator("#tray > li").first).to_have_id(f"item-{first}")
    page.keyboard.press("o")
    page.wait_for_selector("text=It is taken off")
    page.click("text=1 taken off")
    page.get_by_role("button", name="Put it back").click()
    page.wait_for_selector("text=in the list again")
    assert [i.id for i in archive.lists.page(EDITOR, 1).items] == [first, second]
    page.click("text=Write a note >> nth=0")
    page.keyboard.press("Tab")
    page.keyboard.type("u d o")  # typed, not pressed
    page.get_by_role("button", name="Keep the note").first.click()
    page.wait_for_selector(".noted >> text=u d o")
    assert one.complaints == []


def test_pages_wide_narrow_and_on_paper(visit: Visitor, archive: Archive) -> None:
    number = archive.lists.make(EDITOR, "The wall")
    archive.lists.keep(EDITOR, number, "TW-01.1", 5500, 15_000, "first")
    archive.lists.keep(EDITOR, number, "TW-05.1", 13_500, 20_000)  # closed to everybody
    event = archive.overview.choices(EDITOR)["events"][0][0]
    narrow = ("/find/lists", f"/find/lists/{number}", "/find/questions", "/find/grid", f"/find/beside?event={event}")
    for width, paths in ((1280, (f"/find/lists/{number}", "/find/grid")), (390, narrow)):
        one = visit(EDITOR.name, width)
        for path in paths:
            check_folded_and_unfolded(one.go(path), f"{path} at {width}")
        assert one.complaints == []
    page = one.go("/find/grid")
    page.emulate_media(media="print")
    assert page.locator(".cell strong").first.is_visible() and page.locator(".cell.nothing .none").first.is_visible()
    assert not page.locator("#use").is_visible()
