"""Two wordings at the desk in a real Chromium: listed, played, decided by keys and by buttons; a model chosen on the recording's page."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from archive.app import Archive, LineAct
from archive.domain.values import Word
from tests import cast
from tests.browser.conftest import Visitor
from tests.browser.test_access import _check
from tests.browser.test_correcting import CODE, DESK, texts
from tests.webui import town
from tests.webui.town import EDITOR

TYPED = "I was on Net Row in my mother's scullery and the clock stopped at twenty to three."


@pytest.fixture
def desk(visit: Visitor, archive: Archive) -> Page:
    """A line was corrected in two places; then another engine heard both otherwise, and a third word that nobody touched."""
    line = archive.correcting.lines(EDITOR, CODE)[0][1]
    archive.correcting.change(EDITOR, CODE, LineAct("type", (line.key,), TYPED), "a-mark-of-a-page")
    heard = []
    for start_ms, text in town.SCRIPTS["TW-01"]:
        said = text.replace("kitchen", "chicken").replace("ten to three", "turn to three").replace("drain", "drains")
        heard.append((None, [Word(w, start_ms + 260 * n, start_ms + 260 * n + 220, 0.9) for n, w in enumerate(said.split())]))
    cast.give_words(archive, CODE, heard)
    page = visit(EDITOR.name).go(f"/recordings/{CODE}")
    expect(page.locator(".head")).to_contain_text("2 places wait where a newer hearing differs")
    page.goto(page.url.split("/recordings")[0] + DESK)
    page.wait_for_selector("html[data-ready]")
    return page


def test_what_differs_is_listed_and_decided_by_keys(desk: Page, archive: Archive) -> None:
    card = desk.locator("#conflicts")
    expect(card.locator("li")).to_have_count(2)
    expect(card.locator("li").first).to_contain_text("Ours: scullery")
    expect(card.locator("li").first).to_contain_text("Newer: chicken")
    assert any("through the drains first" in text for text in texts(archive)), "what nobody touched is as it was heard anew"
    _check(desk, "two wordings listed")
    desk.keyboard.press("Alt+n")
    assert desk.evaluate("String(getSelection())") == "scullery", "shown where it stands"
    expect(desk.locator("#toggle")).to_have_attribute("aria-pressed", "true")
    desk.keyboard.press("Alt+y")
    expect(card.locator("#conflicts-said")).to_have_text("1 place waits.")
    assert desk.evaluate("String(getSelection())") == "twenty", "and on to the next"
    desk.keyboard.press("Alt+t")
    expect(card.locator("#conflicts-said")).to_have_text("Every place is decided.")
    expect(desk.locator(".turn").nth(1)).to_contain_text("scullery and the clock stopped at turn to three.")
    assert TYPED.replace("twenty", "turn") in texts(archive)
    desk.keyboard.press("Control+z")
    expect(desk.locator(".turn").nth(1)).to_contain_text("at twenty to three.")


def test_another_model_is_asked_for_on_the_recording_s_page(visit: Visitor) -> None:
    page = visit(EDITOR.name, 390, 800).go(f"/recordings/{CODE}")
    page.locator("summary", has_text="With another speech model").click()
    expect(page.locator("section", has=page.locator("#again-h"))).to_contain_text("toldhere models list")
    _check(page, "heard again")
