"""A long transcript: the page has the words in view, brings others when they are needed, and says nothing that nobody asked it to say."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from archive.app import Archive
from archive.domain import passages
from archive.domain.values import Word
from tests import cast
from tests.browser.conftest import Visitor
from tests.browser.test_access import _check
from tests.webui.town import EDITOR

CODE = "TW-01.1"
COUNT = 60  # utterances of half a second, four in each part
PAGE = f"/recordings/{CODE}"


@pytest.fixture
def long(archive: Archive, visit: Visitor, monkeypatch: pytest.MonkeyPatch) -> Page:
    """The editor's page of a transcript in fifteen parts, on a telephone."""
    monkeypatch.setattr(passages, "PART_MS", 1900)
    lines: list[tuple[str | None, list[Word]]] = []
    for n in range(COUNT):
        texts = (f"number{n}", "of", "the", "boats.")
        lines.append((("N-01", "I-01", None)[n % 3], [Word(t, n * 500 + k * 110, n * 500 + k * 110 + 100, 0.9) for k, t in enumerate(texts)]))
    cast.give_words(archive, CODE, lines)
    entered = visit(EDITOR.name, 390, 500)
    page = entered.go(PAGE)
    page.entered = entered  # type: ignore[attr-defined]
    return page


def _there(page: Page) -> set[int]:
    """Numbers of the utterances whose words are in the page."""
    return {int(n) for n in re.findall(r"number(\d+)", page.locator("#words").inner_text())}


def _part(archive: Archive, at_ms: int) -> set[int]:
    """Numbers of the utterances that the part at this time has for the editor."""
    shown = archive.recordings.page(EDITOR, CODE, at_ms).shown
    return {int(n) for u in shown.utterances for n in re.findall(r"number(\d+)", " ".join(w.text for w in u.words))}


def _scroll(page: Page, part: int) -> None:
    page.evaluate(f"scrollTo(0, document.querySelectorAll('.part')[{part}].getBoundingClientRect().top + scrollY)")


def test_what_is_far_is_not_in_the_page_and_comes_when_it_is_near(long: Page, archive: Archive) -> None:
    assert 1 in _part(archive, 0) and len(_part(archive, 0)) < 8
    _scroll(long, 0)
    expect(long.locator("#words")).to_contain_text(f"number{max(_part(archive, 0))}")
    assert _part(archive, 0) <= _there(long) and not {40, 50, 59} & _there(long)
    _scroll(long, 12)
    expect(long.locator("#words")).to_contain_text("number50")
    expect(long.locator("[data-s]", has_text=re.compile("^number1$"))).to_have_count(0)
    assert long.locator("[data-s]").count() < 230, "of 236 words"
    long.goto(f"{long.url}?from=15000#here")
    assert 30 in _part(archive, 15_000) <= _there(long) and 1 not in _there(long)
    expect(long.locator("#here")).to_contain_text("number30")


def test_a_choice_reaches_over_parts_that_nobody_saw(long: Page) -> None:
    long.locator("[data-s]", has_text="number2").first.click()
    long.fill("#look-for", "Number57 of")
    long.keyboard.press("Enter")
    expect(long.locator("#look-said")).to_have_text("1 of 1")
    far = long.locator("[data-s]", has_text="number57")
    expect(far).to_be_in_viewport()
    long.fill("#look-for", "nobody said this")
    long.keyboard.press("Enter")
    expect(long.locator("#look-said")).to_have_text("It is not said here.")
    long.locator("#words").focus()
    for _ in range(5):
        long.keyboard.press("Shift+ArrowUp")
    chosen = long.locator("#chosen-text").text_content() or ""
    assert re.findall(r"number(\d+)", chosen) == ["52", "53", "54", "55", "56", "57"]


def test_speakers_that_were_assigned_are_no_hindrance_to_the_other_parts(long: Page) -> None:
    long.locator("[data-s]", has_text="number2").first.click()
    long.keyboard.press("1")
    expect(long.locator("#speakers-said")).to_contain_text("1 utterance")
    long.click("#toggle")  # what plays would be followed
    _scroll(long, 14)
    expect(long.locator("#words")).to_contain_text("number59")
    assert long.entered.complaints == []  # type: ignore[attr-defined]


def test_without_javascript_every_part_is_a_link_away(long: Page, archive: Archive) -> None:
    bare = long.context.browser.new_context(java_script_enabled=False, storage_state=long.context.storage_state())  # type: ignore[union-attr]
    page = bare.new_page()
    page.goto(long.url)
    assert _there(page) == _part(archive, 0)
    page.locator(".elsewhere a").last.click()
    assert 59 in _there(page) == _part(archive, 29_000)
    bare.close()


def test_keys_for_speakers_are_shown_and_can_be_changed(long: Page) -> None:
    long.locator("summary", has_text="Keys").click()
    long.get_by_role("button", name=re.compile("^N-01, narrator: 1")).click()
    long.keyboard.press("g")
    _scroll(long, 0)
    expect(long.locator("kbd[data-kbd='speaker:N-01']").first).to_have_text("G")
    long.locator("[data-s]", has_text="number2").first.click()
    long.keyboard.press("1")
    long.keyboard.press("g")
    expect(long.locator("#speakers-said")).to_have_text("N-01, narrator: 1 utterance.")
    long.fill("#quote", "")
    long.locator("#quote").press_sequentially("g1 ")
    assert long.locator("#quote").input_value() == "g1 ", "where somebody types it is a letter"


# --- what a screen reader is told -----------------------------------------------------------------------------------
def _tree(page: Page) -> list[dict[str, Any]]:
    tools = page.context.new_cdp_session(page)
    nodes = tools.send("Accessibility.getFullAXTree")["nodes"]
    tools.detach()
    return [n for n in nodes if not n["ignored"]]


def _told(nodes: list[dict[str, Any]], what: str) -> list[tuple[str, str, dict[str, Any]]]:
    """(role, name, properties) of the nodes with one of these roles."""
    return [
        (n["role"]["value"], n.get("name", {}).get("value", ""), {p["name"]: p["value"].get("value") for p in n.get("properties", [])})
        for n in nodes if n["role"]["value"] in what.split()
    ]  # fmt: skip


@pytest.mark.parametrize("path", [PAGE, f"{PAGE}/correct", f"{PAGE}/versions", f"{PAGE}/waiting"])
def test_headings_landmarks_and_labels_as_chromium_tells_them(long: Page, path: str) -> None:
    """WCAG 2.2, 1.3.1, 2.4.1, 2.4.6 and 4.1.2: headings go down by one, landmarks are there once, whatever can be worked has a name."""
    page = long.entered.go(path)  # type: ignore[attr-defined]
    _check(page, path)
    nodes = _tree(page)
    levels = [p["level"] for _, _, p in _told(nodes, "heading")]
    assert levels[0] == 1 and levels.count(1) == 1 and all(b <= a + 1 for a, b in zip(levels, levels[1:], strict=False)), levels
    assert len(_told(nodes, "main")) == 1 and _told(nodes, "navigation")
    named = [name for _, name, _ in _told(nodes, "region search")]  # a form without a name is no landmark
    assert all(named) and len(set(named)) == len(named), named
    for role, name, _ in _told(nodes, "button link textbox searchbox combobox checkbox radio slider"):
        assert name.strip(), f"a {role} without a name"


@pytest.mark.parametrize("path", [PAGE, f"{PAGE}/correct"])
def test_the_word_that_plays_is_marked_and_not_said(long: Page, path: str) -> None:
    """WAI-ARIA 1.2, live regions: what changes inside one is read out, so neither words nor the clock may be in one."""
    page = long.entered.go(path)  # type: ignore[attr-defined]
    if path == PAGE:
        page.click("#toggle")
        page.wait_for_selector("[data-s].now")
    else:
        page.keyboard.press("Alt+p")
        page.wait_for_selector("#toggle[aria-pressed=true]")
        expect(page.locator("#now")).not_to_have_text("0:00")
    nodes = _tree(page)
    by_id = {n["nodeId"]: n for n in nodes}

    def live(node: dict[str, Any]) -> bool:
        own = {p["name"]: p["value"].get("value") for p in node.get("properties", [])}
        return own.get("live", "off") not in ("off", "") or node["role"]["value"] in ("status", "alert", "log", "timer")

    words = [n for n in nodes if n["role"]["value"] == "StaticText" and re.search(r"number\d|\d:\d\d", n.get("name", {}).get("value", ""))]
    assert len(words) > 4
    for node in words:
        above: dict[str, Any] | None = node
        while above is not None:
            assert not live(above), node["name"]
            above = by_id.get(above.get("parentId", ""))
    regions = [n for n in nodes if live(n)]
    assert regions, "what is kept, what was assigned: these are said"
