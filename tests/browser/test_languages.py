"""A translation written for chosen words and a word of the glossary opened by keys, in a real Chromium."""

from __future__ import annotations

from playwright.sync_api import expect

from archive.app import Archive
from tests.browser.conftest import Visitor
from tests.browser.test_access import _check
from tests.webui.town import EDITOR, READER

POLISH = "Sallow weszła najpierw odpływem, a nie przez mur."


def test_translate_chosen_words_and_open_what_a_word_means_by_keys(visit: Visitor, archive: Archive) -> None:
    archive.glossary.write(EDITOR, {"word": "drain", "language": "en", "meanings": "a pipe; a ditch", "sensitive": "yes"})
    seen = visit(EDITOR.name)
    page = seen.go("/recordings/TW-01.1")
    page.click("#words [data-s] >> text=Sallow")
    page.click("#words [data-s] >> text=wall.", modifiers=["Shift"])
    page.get_by_role("button", name="Translate these words").click()
    _check(page, "translating")
    expect(page.locator("blockquote")).to_have_text("Sallow came up through the drain first and not over the wall.")
    page.fill("#into", "Polish")
    page.fill("#text", POLISH)
    page.get_by_role("button", name="Put it beside them").click()
    expect(page.locator("h1")).to_have_text("Translation into Polish")
    _check(page, "a translation")
    page = seen.go("/recordings/TW-01.1")
    expect(page.locator('.translated .said[lang="pl"]')).to_have_text(POLISH)
    summary = page.locator("details.gloss summary")
    summary.focus()
    page.keyboard.press("Enter")
    expect(page.locator("details.gloss p")).to_contain_text("a pipe; a ditch. Sensitive:")
    _check(page, "with a translation and a glossary word")
    page.set_viewport_size({"width": 390, "height": 800})
    _check(page, "at 390")
    _check(seen.go("/glossary"), "the glossary")
    assert seen.complaints == []
    reader = visit(READER.name).go("/recordings/TW-01.1")
    expect(reader.locator('.translated .said[lang="pl"]')).to_have_text(POLISH)
    assert reader.get_by_role("button", name="Translate these words").count() == 0
