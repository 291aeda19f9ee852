"""The pages of the thesaurus in a real Chromium: readable by everybody, narrow and wide, folded and unfolded."""

from __future__ import annotations

import pytest

from archive.app import Archive
from tests.browser.conftest import Visitor
from tests.browser.test_access import _check
from tests.webui.town import EDITOR


@pytest.mark.parametrize("width", [360, 1280])
def test_the_thesaurus_is_for_everybody_who_works_with_it(visit: Visitor, archive: Archive, width: int) -> None:
    archive.themes.write(EDITOR, {"theme": "flood", "broader": "water", "use_for": "inundation; pl: powódź", "related": ""})
    seen = visit(EDITOR.name, width=width)
    page = seen.go("/themes")
    _check(page, "themes")
    page.get_by_role("link", name="flood", exact=True).click()
    page.get_by_text("Change it …").click()
    _check(page, "a theme")
    page.get_by_label("Name", exact=True).fill("the flood")
    page.get_by_role("button", name="Keep it").click()
    assert page.get_by_role("heading", level=1).inner_text() == "the flood" and "inundation; pl: powódź; flood" in page.inner_text("dl")
    _check(seen.go("/themes/missing"), "what no theme describes")
    assert not seen.complaints
