"""Choosing words with the form far away: what is picked stays at hand, the page stays still, two taps do without Shift.

Widths are a project choice: 1280 a desk, 390 a telephone.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from archive.app import Archive
from tests.browser.conftest import Visitor
from tests.browser.test_access import _check
from tests.webui.town import EDITOR, READER

UNDER = (
    "(() => { const line = document.querySelector('#here [data-s]').getClientRects()[0];"
    " const under = document.querySelector('#player').getBoundingClientRect().bottom;"
    " return line.top >= under && line.bottom <= innerHeight; })()"
)

NOW_SEEN = (
    "(() => { const box = document.querySelector('.now[data-s]').getBoundingClientRect();"
    " return box.top >= document.querySelector('#player').getBoundingClientRect().bottom && box.bottom <= innerHeight; })()"
)


def _word(page: Page, text: str) -> None:
    page.click(f"#words [data-s] >> text={text}")


def _far_down(page: Page) -> None:
    """A long interview: the words are so far below the form that they do not fit one window together."""
    page.evaluate(
        "document.querySelectorAll('.utterance').forEach((u) => {"
        " u.style.contentVisibility = 'visible'; u.style.paddingBottom = '40rem'; })"
    )


def _in_window(page: Page, selector: str) -> bool:
    box = page.locator(selector).bounding_box()
    size = page.viewport_size
    assert size is not None
    return box is not None and box["y"] >= 0 and box["y"] + box["height"] <= size["height"]


def test_beside_the_words_the_form_stays_in_view(look: Visitor) -> None:
    page = look(EDITOR.name).go("/recordings/TW-01.1")
    _far_down(page)
    _word(page, "drain")
    page.click("#words [data-s] >> text=wall", modifiers=["Shift"])
    page.wait_for_timeout(700)
    assert page.evaluate("scrollY") > 800
    assert _in_window(page, "#choose button.main")
    assert not page.locator("#keep").is_visible()
    page.set_viewport_size({"width": 1280, "height": 600})  # lower than the card: it scrolls by itself
    page.wait_for_timeout(300)
    before = page.evaluate("scrollY")
    page.evaluate("document.querySelector('#choose button.main').focus()")
    page.wait_for_timeout(700)
    assert _in_window(page, "#choose button.main")
    assert abs(page.evaluate("scrollY") - before) < 300


def test_below_the_words_a_bar_leads_to_the_form(look: Visitor) -> None:
    visit = look(EDITOR.name, 390)
    page = visit.go("/recordings/TW-01.1")
    _far_down(page)
    bar = page.locator("#keep")
    expect(bar).to_be_hidden()
    _word(page, "kitchen")
    page.click("#words [data-s] >> text=three", modifiers=["Shift"])
    expect(bar).to_be_visible()
    expect(bar).to_contain_text("kitchen and the clock stopped at ten to three.")
    page.wait_for_timeout(700)
    assert _in_window(page, "#keep")
    box = bar.bounding_box()
    assert box is not None and box["height"] < 80, "one line"
    padding = page.evaluate("parseFloat(getComputedStyle(document.documentElement).scrollPaddingBottom)")
    assert padding >= box["height"], "what is focused must not lie under the bar (WCAG 2.2, 2.4.11)"
    _check(page, "the bar with chosen words")
    bar.focus()
    page.keyboard.press("Enter")
    page.wait_for_timeout(900)
    assert page.evaluate("document.activeElement.id") == "choose"
    assert page.locator("#choose #use").is_visible()
    expect(bar).to_be_hidden()
    assert visit.complaints == []


def test_the_page_stays_while_words_are_picked(look: Visitor) -> None:
    page = look(EDITOR.name).go("/recordings/TW-01.1")
    _far_down(page)
    _word(page, "nobody")
    page.click("#words [data-s] >> text=else", modifiers=["Shift"])
    expect(page.locator("#toggle .say")).to_have_text("Play", timeout=5_000)  # the choice was heard to its end
    page.evaluate("scrollTo({ top: 0, behavior: 'instant' })")
    page.wait_for_timeout(4200)  # longer than the page stays because of the click alone
    page.locator("#position").fill("23")
    page.click("#toggle")
    page.wait_for_timeout(2500)  # over the beginning of the last utterance, far below
    assert page.locator("#toggle .say").inner_text() == "Pause"
    assert page.evaluate("document.querySelector('.now[data-s]') !== null")
    assert page.evaluate("scrollY") == 0


def test_the_page_stays_after_somebody_scrolled(look: Visitor) -> None:
    page = look(READER.name).go("/recordings/TW-01.1?from=15000")
    _far_down(page)
    page.mouse.move(600, 500)
    page.mouse.wheel(0, 400)
    page.wait_for_timeout(600)
    there = page.evaluate("scrollY")
    page.locator("#toggle").focus()
    page.keyboard.press("Enter")
    page.wait_for_timeout(2000)  # "It was Peter" begins at 16 s, far below
    assert page.evaluate("document.querySelector('.now[data-s]') !== null")
    assert page.evaluate("scrollY") == there > 0  # nor does the focus on the player move it
    page.wait_for_timeout(3500)
    assert page.evaluate(NOW_SEEN), "left alone for 4 s, the page follows again"


def test_the_sound_of_a_choice_ends_with_its_last_word(look: Visitor) -> None:
    page = look(EDITOR.name).go("/recordings/TW-01.1")
    _word(page, "kitchen")
    page.click("#words [data-s] >> text=stopped", modifiers=["Shift"])
    expect(page.locator("#toggle .say")).to_have_text("Pause")
    expect(page.locator("#toggle .say")).to_have_text("Play", timeout=5_000)
    kitchen, stopped = (
        page.locator(f"#words [data-s] >> text={w}").first.evaluate("(s) => Number(s.dataset.s)") for w in ("kitchen", "stopped")
    )
    assert kitchen < stopped
    assert page.locator("#now").inner_text() == f"0:{(stopped + 220) // 1000:02d}"  # the script's words last 220 ms (town.py)


def test_two_taps_choose_without_shift(visit: Visitor, archive: Archive) -> None:
    page = visit(EDITOR.name, 390, has_touch=True).go("/recordings/TW-01.1")
    button, said = page.locator("#taps"), page.locator("#taps-said")
    assert said.get_attribute("aria-live") == "polite"
    button.tap()
    expect(button).to_have_attribute("aria-pressed", "true")
    expect(said).to_have_text("Tap the first word.")
    page.locator("#words [data-s] >> text=clock").tap()
    expect(said).to_contain_text("First word: “clock”. Tap the last word.")
    expect(page.locator("#toggle .say")).to_have_text("Play")  # a tap chooses, it does not play
    expect(page.locator("#keep")).to_be_hidden()
    page.locator("#words [data-s] >> text=three").tap()
    expect(said).to_contain_text("6 words chosen.")
    page.get_by_role("button", name="Keep this excerpt").click()
    page.wait_for_url("**/exhibition*")
    (row,) = archive.excerpts.list(EDITOR)
    assert row.shown is not None
    assert row.shown.words == "clock stopped at ten to three."


def test_who_may_not_choose_is_offered_no_taps(look: Visitor) -> None:
    page = look(READER.name, 390).go("/recordings/TW-01.1")
    assert page.locator("#taps, #keep").count() == 0


@pytest.mark.parametrize("width", [1280, 390])
def test_a_hit_is_seen_below_the_player(look: Visitor, width: int) -> None:
    page = look(EDITOR.name, width, 600).go("/recordings/TW-01.1?from=7000#here")
    page.wait_for_timeout(500)
    assert page.evaluate("scrollY") > 0
    assert page.evaluate(UNDER)
