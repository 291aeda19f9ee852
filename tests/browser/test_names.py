"""One name of 40 stretches decided by keys alone: 41 keys (project choice: within 3 minutes), none counted as heard that was not.

Sound plays eight times as fast here; what it would last is reckoned from the stretches themselves.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from archive.app import Archive
from archive.db import mentions, people, recordings
from archive.domain.values import Decision, Stretch
from tests.browser.conftest import Visitor
from tests.browser.test_access import _check, check_folded_and_unfolded
from tests.webui.town import EDITOR

STRETCHES = 40
BUDGET_S = 180
FAST = "const real = HTMLMediaElement.prototype.play; HTMLMediaElement.prototype.play = function () { this.playbackRate = 8; return real.call(this); };"


def _named(archive: Archive, number: int) -> None:
    """So many words of TW-01.1 may be about N-02, and nobody has decided."""
    words = [w for u in archive.recordings.page(EDITOR, "TW-01.1").shown.utterances for w in u.words]
    with archive.rooms.db.write() as connection:
        row, person = recordings.by_code(connection, "TW-01.1"), people.by_code(connection, "N-02")
        assert row is not None and person is not None
        for word in words[:number]:
            mentions.decide(connection, Stretch(row.id, word.start_ms, word.end_ms), person.id, Decision.UNDECIDED, "", "machine", archive.rooms.now())


def _heard(page: Page) -> int:
    return page.locator("#stretches input[name=heard]:checked").count()


def test_forty_stretches_take_forty_one_keys(visit: Visitor, archive: Archive) -> None:
    _named(archive, STRETCHES)
    visitor = visit(EDITOR.name)
    visitor.page.add_init_script(FAST)
    page = visitor.go("/names/N-02")
    expect(page.locator("#stretches .stretch")).to_have_count(STRETCHES)
    expect(page.locator("#hide")).to_be_disabled()
    sound_s = page.evaluate("[...document.querySelectorAll('#stretches .stretch')].reduce((s, e) => s + Number(e.dataset.end) - Number(e.dataset.start), 0) / 1000")
    assert sound_s + STRETCHES * 1.5 <= BUDGET_S, "the sound, and a second and a half to press each key"
    keys = 0
    for number in range(STRETCHES):
        page.keyboard.press("Space")
        keys += 1
        # Seen in the page at once; `expect` asks from outside, later and later.
        page.wait_for_selector(f":nth-match(#stretches .stretch.heard, {number + 1})")
        page.wait_for_selector(".play[aria-pressed=true]", state="detached")
        assert page.locator("#stretches .stretch.heard").count() == number + 1
    assert _heard(page) == STRETCHES
    assert page.evaluate("document.activeElement.id") == "hide", "after the last one the safe answer has the focus"
    page.keyboard.press("Enter")
    keys += 1
    page.wait_for_selector("text=40 stretches decided: hidden.")
    assert keys == 41
    assert all(m.decision == "hide" for m in archive.naming.name(EDITOR, "N-02").stretches)
    assert visitor.complaints == []


def test_what_was_passed_over_was_not_heard(visit: Visitor, archive: Archive) -> None:
    _named(archive, 3)
    page = visit(EDITOR.name).go("/names/N-02")
    page.keyboard.press("Enter")
    expect(page.locator(".play[aria-pressed=true]")).to_have_count(1)
    page.keyboard.press("Enter")  # at once: the name was not said yet
    expect(page.locator("#stretches .stretch").nth(1)).to_have_class("stretch current")
    assert _heard(page) == 0
    expect(page.locator("#hide")).to_be_disabled()
    page.keyboard.press("ArrowUp")
    expect(page.locator("#stretches .stretch").nth(0)).to_have_class("stretch current")
    page.keyboard.press("Space")
    expect(page.locator("#stretches .stretch.heard")).to_have_count(1, timeout=10_000)
    page.get_by_label("To let it stand").fill("he said so himself")
    page.get_by_role("button", name="The name may stand").click()
    page.wait_for_selector("text=1 stretch decided: may stand.")
    assert sorted(m.decision for m in archive.naming.name(EDITOR, "N-02").stretches) == ["keep", "undecided", "undecided"]


@pytest.mark.parametrize("width", [1280, 640, 390])
def test_the_pages_of_names(look: Visitor, width: int) -> None:
    visitor = look(EDITOR.name, width, 800 if width > 640 else 400)
    for path in ("/names", "/names/N-08", "/off-the-record"):
        check_folded_and_unfolded(visitor.go(path), f"{path} at {width}")
    page = visitor.go("/recordings/TW-01.1")
    page.fill("#quote", "Net Row")
    page.get_by_role("button", name="Hide these words").click()
    page.wait_for_selector("text=Hide these words like a name")
    _check(page, f"words to hide at {width}")
    assert visitor.complaints == []


def test_without_javascript_there_are_boxes_and_links(visit: Visitor, archive: Archive) -> None:
    _named(archive, 2)
    page = visit(EDITOR.name, java_script_enabled=False).go("/names/N-02")
    expect(page.locator(".play:visible")).to_have_count(0)
    page.get_by_label("I heard this").first.check()
    page.locator(".stretch a").first.is_visible()
    page.get_by_role("button", name="Hide it").click()
    expect(page.locator("text=1 stretch decided: hidden.")).to_be_visible()
