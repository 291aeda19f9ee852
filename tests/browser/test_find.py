"""Find before a real browser: media fragments as W3C has them, and what is folded."""

from __future__ import annotations

import pytest

from tests.browser.conftest import Visitor
from tests.browser.test_access import check_folded_and_unfolded
from tests.webui.town import EDITOR

CLIP_S = 9.97
# W3C test cases for Media Fragments URI 1.0, temporal dimension, clip of 9.97 s (CHECKS §7 [read]); None: the whole resource.
CASES = {
    "t=3,7": (3, 7), "t=npt:3,7": (3, 7), "t=00:00:03,00:00:07": (3, 7), "t=3%2C7": (3, 7), "t=,7": (0, 7), "t=3": (3, CLIP_S), "t=3,15": (3, CLIP_S),
    "t=7&t=3": (3, CLIP_S), "%74=3,7": (3, 7), "t=3&": (3, CLIP_S), "t=0,7.5": (0, 7.5), "t=npt:00:03": (3, CLIP_S),
    "t=3,3": None, "t=7,3": None, "t=3,": None, "t=-1,3": None, "t=3-7": None, "t=0:00:60": None, "t=npt:": None, "t=": None, "t": None, "here": None, "t=10": None, "t=%": None,
}  # fmt: skip


def test_media_fragments_and_the_fold(visit: Visitor) -> None:
    """One page for all: a browser is slow to start."""
    entered = visit(EDITOR.name, 390, 800)
    page = entered.go("/find")
    assert page.locator("details.more[open]").count() == 0, "the first screen stays calm"
    check_folded_and_unfolded(page, "Find, not yet asked")
    read = "async ([text, length]) => (await import('/static/js/fragment.js')).timed('#' + text, length)"
    for text, wanted in CASES.items():
        found = page.evaluate(read, [text, CLIP_S])
        assert found == (None if wanted is None else pytest.approx(list(wanted))), text
    page.fill("#words", 'flood or "net row')
    page.keyboard.press("Enter")
    page.wait_for_url("**/find/*")
    assert "quotation mark" in page.locator(".note").first.inner_text()
    check_folded_and_unfolded(page, "Find, answered")
    page.locator(".where a").first.click()
    page.wait_for_url("**#t=*")
    start_s = float(page.url.split("#t=")[1].split(",")[0])
    shown = page.evaluate("Number(document.getElementById('position').value)")
    assert abs(shown - start_s) < 1.5, "the player stands where it was said"
    assert entered.complaints == []
