"""WCAG 2.2 AA as far as axe can tell, on every page, wide and narrow; nothing sticks out; the browser complains of nothing.

axe-core 4.14.1 (MPL-2.0) lies in vendor/. A machine finds part of the barriers only: project choice to use it as a floor.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page

from archive.app import Archive
from tests.browser.conftest import Visit, Visitor
from tests.lease import exported
from tests.webui.town import EDITOR, KEEPER, PASSWORD, READER

AXE = (Path(__file__).parent / "vendor" / "axe.min.js").read_text(encoding="utf-8")
# Of what passes only one place is put into words: that was three quarters of the time, and nothing reads it.
RUN = (
    "axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa'], resultTypes: ['violations']})"
    ".then((found) => found.violations)"
)
PATHS = {
    KEEPER.name: [
        "/find", "/recordings", "/recordings/TW-01.1", "/recordings/TW-05.1?from=7000#here", "/recordings/TW-01.1?speakers=all", "/recordings/TW-01.1?passages=cut", "/confirm",
        "/recordings/TW-07.1", "/people", "/people/N-01", "/people/N-06", "/people/N-01/withdraw", "/people/again?use=press", "/agreements/A-N-01", "/names", "/names/N-08", "/off-the-record", "/exhibition", "/upkeep",
        "/upkeep/came-in", "/upkeep/left", "/upkeep/cards", "/upkeep/copies", "/upkeep/notes", "/upkeep/record", "/upkeep/accounts",
    ],
    EDITOR.name: ["/people/N-05", "/recordings/TW-01.1", "/recordings/TW-01.1/waiting"],
    READER.name: ["/find", "/recordings", "/recordings/TW-01.1", "/recordings/TW-05.1", "/recordings/TW-06.1"],
}  # fmt: skip


def _check(page: Page, what: str) -> None:
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    found = page.evaluate(RUN)
    assert not found, (what, [(v["id"], [(n["html"][:160], n["failureSummary"][-200:]) for n in v["nodes"]]) for v in found])
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{what} sticks out sideways"
    assert page.locator("h1").count() == 1, what
    assert page.locator("main").count() == 1, what


def check_folded_and_unfolded(page: Page, what: str) -> None:
    """What is folded is read too: holds to lift, the table of uses, what was set aside, more suggestions."""
    _check(page, what)
    if page.evaluate("[...document.querySelectorAll('details:not([open])')].map((d) => { d.open = true; }).length"):
        _check(page, f"{what}, unfolded")


def _quiet(visit: Visit) -> None:
    assert visit.complaints == []


@pytest.mark.parametrize("width", [1280, 640, 390])  # 640: 1280 at 200 % (WCAG 1.4.4, 1.4.10)
@pytest.mark.parametrize("name", list(PATHS))
def test_pages(look: Visitor, name: str, width: int) -> None:
    visit = look(name, width, 800 if width > 640 else 400)
    for path in PATHS[name]:
        check_folded_and_unfolded(visit.go(path), f"{path} at {width}")
    _quiet(visit)


@pytest.mark.parametrize("width", [1280, 390])
def test_answers_and_refusals(look: Visitor, width: int) -> None:
    visit = look(KEEPER.name, width)
    page = visit.page
    for words in ("flood", "zeppelin"):
        visit.go("/find")
        page.fill("#words", words)
        page.keyboard.press("Enter")
        page.wait_for_url("**/find/*")
        _check(page, f"an answer at {width}")
    visit.go("/recordings/TW-05.1")
    page.fill("#reason", "the embargo ends, to be reviewed")
    page.click("text=Open for one reading")
    page.wait_for_selector("text=open for this one reading")
    _check(page, f"an opened recording at {width}")
    visit.go("/recordings/TW-01.1")
    page.fill("#quote", "words that nobody said")
    page.get_by_role("button", name="Keep this excerpt").click()
    page.wait_for_selector("[role=alert]")
    _check(page, f"a refused quote at {width}")
    visit.go("/upkeep/record")
    page.click("text=Check that all is whole")
    page.wait_for_selector("text=All is whole")
    _check(page, f"a checked record at {width}")
    assert all("409" in c for c in visit.complaints), visit.complaints  # the refused quote, which Chromium notes itself


@pytest.mark.parametrize("scripts", [True, False])
def test_the_entrance_lets_in(look: Visitor, scripts: bool) -> None:
    """By its own form; the other tests send what it sends."""
    visit = look("", java_script_enabled=scripts)
    page = visit.go("/sign-in")
    page.fill("#name", EDITOR.name)
    page.fill("#password", PASSWORD)
    page.click("main button.main")
    page.wait_for_url("**/find")
    assert EDITOR.name in page.locator(".who").inner_text()
    _quiet(visit)


def test_an_export_under_way_and_at_its_end(visit: Visitor, archive: Archive) -> None:
    """At the narrow width alone: the page is one column."""
    for words in ("the clock stopped at ten to three.", "The Sallow came up through the drain first"):
        archive.excerpts.choose(EDITOR, "TW-01.1", words, "exhibition")
    one = visit(EDITOR.name, 390)
    one.go("/exhibition")
    one.page.get_by_role("button", name="Export", exact=True).click()
    one.page.wait_for_url("**/exhibition/export/*")
    _check(one.page, "an export that waits")
    exported(archive)
    one.page.wait_for_selector("text=OUT-0001 is ready")  # the page comes by itself
    _check(one.page, "an export that is done")
    one.go("/exhibition")
    one.page.get_by_role("button", name="Export only this").first.click()
    one.page.get_by_role("button", name="Cancel").first.click()
    one.page.wait_for_selector("text=The job is cancelled")
    _check(one.page, "the list of work with what ended early")
    _quiet(one)


@pytest.mark.parametrize("width", [1280, 390])
def test_entrance_and_errors(look: Visitor, width: int) -> None:
    visit = look("", width)
    _check(visit.go("/sign-in"), "sign-in")
    page = look(READER.name, width).go("/recordings") if width else visit.page
    page.goto(page.url.rsplit("/", 1)[0] + "/recordings/none")
    _check(page, "an error")


def test_what_paper_gets(look: Visitor) -> None:
    page = look(READER.name).go("/recordings/TW-01.1")
    page.emulate_media(media="print")
    assert page.locator("text=mother's").first.is_visible() or page.locator(".said").first.is_visible()
    for gone in (".top nav", ".leave", ".controls", ".skip"):
        assert not page.locator(gone).first.is_visible(), gone


def test_the_first_tab_offers_to_skip_to_the_page(look: Visitor) -> None:
    page = look(READER.name).go("/recordings")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the page"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"


def test_everything_that_is_focused_can_be_seen(look: Visitor) -> None:
    page = look(KEEPER.name).go("/recordings/TW-01.1")
    for _ in range(30):
        page.keyboard.press("Tab")
        ring = page.evaluate(
            "(() => { const s = getComputedStyle(document.activeElement);"
            " return s.outlineStyle !== 'none' || document.activeElement.id === 'words' || document.activeElement === document.body; })()"
        )
        assert ring, page.evaluate("document.activeElement.outerHTML.slice(0, 120)")
