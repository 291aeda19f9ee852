"""A name put right at the desk, and the same elsewhere, by keys alone, in a real Chromium."""

from __future__ import annotations

import random
from difflib import SequenceMatcher

from playwright.sync_api import expect

from archive.app import Archive, LineAct
from tests.browser.conftest import Visitor
from tests.browser.test_access import _check
from tests.webui.town import EDITOR


def last(archive: Archive, code: str) -> str:
    return " ".join(w[0] for w in archive.correcting.lines(EDITOR, code)[0][-1].words)


def test_each_change_of_a_line_is_told_and_offered_by_itself(visit: Visitor, archive: Archive) -> None:
    """As difflib of the standard library tells words that were put in the place of others; words of a line are told apart here."""
    page = visit(EDITOR.name).go("/recordings/TW-01.1/correct")
    page.wait_for_selector("html[data-ready]")
    ours = "async ([before, after]) => (await import('/static/js/elsewhere.js')).differences(before, after)"
    chance = random.Random(7)
    for _ in range(25):
        old = [f"word{n}" for n in range(chance.randint(1, 60))]
        now = [new for n, word in enumerate(old) for new in chance.choice([[word]] * 5 + [[f"other{n}"], [f"other{n}", f"more{n}"], [], [word, f"put in{n}".replace(" ", "")]])]
        codes = SequenceMatcher(None, old, now, autojunk=False).get_opcodes()
        wanted = [{"before": " ".join(old[a:b]), "after": " ".join(now[c:d])} for what, a, b, c, d in codes if what == "replace" and b - a <= 6 and d - c <= 6]
        assert page.evaluate(ours, [" ".join(old), " ".join(now)]) == wanted, (old, now)
    assert page.evaluate(ours, ["Peter Lund of Brind House said so", "Peter Lunde of Brynd House said so"]) == [{"before": "Lund", "after": "Lunde"}, {"before": "Brind", "after": "Brynd"}]
    archive.correcting.change(EDITOR, "TW-05.1", LineAct("type", (archive.correcting.lines(EDITOR, "TW-05.1")[0][-1].key,), "The Sallow's wall."), "12345678")
    line = page.locator(".turn .said", has_text="The Sallow")
    line.evaluate("(el) => { el.focus(); getSelection().selectAllChildren(el); }")
    page.keyboard.type("The Swallow came up through the drain first and not over the Vall.")
    page.locator(".turn .said").first.focus()
    expect(page.locator("#offer")).to_contain_text("“Swallow” there as well? After this, 1 more change may be wanted elsewhere.")
    page.get_by_role("button", name="Not now").click()
    expect(page.locator("#offer")).to_have_text("The same elsewhere: “wall” stands in 1 more place; “Vall” there as well?")
    page.get_by_role("button", name="Not now").click()
    expect(page.locator("#offered")).to_be_hidden()


def test_a_name_put_right_at_the_desk_is_put_right_elsewhere_by_keys(visit: Visitor, archive: Archive) -> None:
    """The river is mis-heard in two recordings: corrected in one, offered, heard and changed in the other, undone at its desk."""
    other = archive.correcting.lines(EDITOR, "TW-05.1")[0][-1]
    archive.correcting.change(EDITOR, "TW-05.1", LineAct("type", (other.key,), "After that nobody by the Sallow's bank spoke to us."), "12345678")
    archive.correcting.finish(EDITOR, "TW-05.1")
    seen = visit(EDITOR.name)
    page = seen.go("/recordings/TW-01.1/correct")
    page.wait_for_selector("html[data-ready]")
    expect(page.locator("#offered")).to_be_hidden()
    page.locator(".turn .said", has_text="The Sallow").click()
    page.keyboard.press("Home")
    for _ in range(2):
        page.keyboard.press("Control+ArrowRight")
    page.keyboard.press("Control+Shift+ArrowLeft")
    page.keyboard.type("Swallow ")
    page.locator(".turn .said").first.focus()
    expect(page.locator("#offer")).to_contain_text("“Sallow” stands in 1 more place; “Swallow” there as well?")
    expect(page.locator("#offered")).to_be_in_viewport()
    expect(page.locator(".turn .said").first).to_be_focused()
    page.keyboard.press("Alt+s")
    page.wait_for_url("**/spellings/same")
    expect(page.locator(".stretch .said")).to_contain_text("nobody by the Sallow's bank")
    _check(page, "the same elsewhere")
    page.keyboard.press(" ")
    expect(page.locator(".stretch .play")).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("c")
    expect(page.locator("#count")).to_have_text("1 of 1 ticked.")
    page.keyboard.press("Enter")
    expect(page.locator(".note")).to_contain_text("TW-05.1 (1 place)")
    assert last(archive, "TW-05.1") == "After that nobody by the Swallow's bank spoke to us."
    assert last(archive, "TW-01.1").startswith("The Swallow came up")
    page.locator(".note a", has_text="TW-05.1").click()
    page.wait_for_selector("html[data-ready]")
    page.keyboard.press("Control+z")
    expect(page.locator(".turn .said").last).to_contain_text("the Sallow's bank")
    _check(seen.go("/spellings"), "spellings")
    assert not seen.complaints
