"""Who speaks, by keys in a real Chromium, on a recording whose voices were compared."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

from playwright.sync_api import Browser, expect

from archive.app import Archive
from archive.domain.values import Role
from tests import cast
from tests.browser.conftest import _visitor
from tests.browser.test_access import _check
from tests.cast import EDITOR, KEEPER
from tests.conftest import copy_of
from tests.services.spoken import CODE
from tests.webui import town
from webui.app import create_app


def test_digits_then_all_that_sound_alike_then_what_is_ticked(browser: Browser, made_spoken: Path, tmp_path: Path) -> None:
    archive = Archive.open(copy_of(made_spoken, tmp_path / "archive"), {}, cast.clock)
    archive.accounts.add(KEEPER, EDITOR.name, Role.EDITOR, town.PASSWORD)
    with ExitStack() as stack:
        visit = _visitor(browser, create_app(archive), stack)(EDITOR.name)
        page = visit.go(f"/recordings/{CODE}")
        _check(page, "suggestions")
        waiting = archive.speaking.page(EDITOR, CODE).unassigned
        page.locator(".utterance.nobody [data-s]").first.click()
        page.keyboard.press("1")
        expect(page.locator("#speakers-said")).to_have_text("N-08, narrator: 1 utterance.")
        assert archive.speaking.page(EDITOR, CODE).unassigned == waiting - 1
        expect(page.locator("#unassigned-n")).to_have_text(f"{waiting - 1} utterances have")
        page.keyboard.press("Shift+Digit1")
        expect(page.locator("#speakers-said")).to_contain_text("sound like this one")
        marked = page.locator(".utterance.alike").count()
        assert marked >= 4 and archive.speaking.page(EDITOR, CODE).unassigned == waiting - 1, "shown first"
        page.keyboard.press("Escape")
        expect(page.locator(".utterance.alike")).to_have_count(0)
        page.keyboard.press("Shift+Digit1")
        expect(page.locator(".utterance.alike")).to_have_count(marked)
        page.keyboard.press("Shift+Digit1")
        expect(page.locator("#speakers-said")).to_contain_text(f"{marked} utterances")
        page.set_viewport_size({"width": 390, "height": 800})
        _check(visit.go(f"/recordings/{CODE}"), "at 390")
        left = page.get_by_role("button", name="Accept what is ticked")
        if left.count():
            left.click()
            page.wait_for_selector("text=now.")
        assert visit.complaints == []
    archive.close()
