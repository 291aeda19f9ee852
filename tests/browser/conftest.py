"""Debian's chromium, driven by playwright, before the town's archive on a real server."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from playwright.sync_api import Browser, Page, sync_playwright

from archive.app import Archive
from tests.needs import chromium
from tests.webui import town
from tests.webui.conftest import app, archive, made, token_of  # noqa: F401  fixtures
from tests.webui.serving import serving
from webui.app import create_app

FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--autoplay-policy=no-user-gesture-required",
]  # fmt: skip


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all tests."""
    path = chromium()
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=path, headless=True, args=FLAGS)
        yield opened
        opened.close()


@dataclass
class Visit:
    """A page of somebody who is signed in, and what their browser complained of."""

    page: Page
    base: str
    complaints: list[str]

    def go(self, path: str) -> Page:
        """Open a page of the archive."""
        self.page.goto(self.base + path)
        return self.page


Visitor = Callable[..., Visit]


def _visitor(browser: Browser, served: Flask, stack: ExitStack) -> Visitor:
    return _visits(browser, stack.enter_context(serving(served)), stack)


def _visits(browser: Browser, port: int, stack: ExitStack) -> Visitor:
    """Visits to what is served there; they end with the stack."""
    base = f"http://127.0.0.1:{port}"

    def visit(name: str = "", width: int = 1280, height: int = 800, **options: Any) -> Visit:
        context = browser.new_context(viewport={"width": width, "height": height}, **options)
        stack.callback(context.close)
        page = context.new_page()
        page.set_default_timeout(15_000)
        complaints: list[str] = []
        page.on("console", lambda m: complaints.append(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda e: complaints.append(str(e)))
        if name:
            token = token_of(context.request.get(f"{base}/sign-in").text())
            form = {"csrf_token": token, "name": name, "password": town.PASSWORD}
            answer = context.request.post(f"{base}/sign-in", form=form, max_redirects=0)
            assert answer.status == 303, answer.text()
        return Visit(page, base, complaints)

    return visit


@pytest.fixture
def visit(browser: Browser, app: Flask) -> Iterator[Visitor]:  # noqa: F811
    """Visits to a copy of the town's archive that the test may change."""
    with ExitStack() as stack:
        yield _visitor(browser, app, stack)


@pytest.fixture(scope="module")
def looked_at(made: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:  # noqa: F811
    """The port of one archive that all tests of a module share: for looking only."""
    opened: Archive = town.copy_of(made, tmp_path_factory.mktemp("look") / "archive")
    code = opened.excerpts.choose(town.EDITOR, "TW-01.1", "the clock stopped at ten to three.", "exhibition", "Gallery 2")
    opened.excerpts.tick_heard(town.EDITOR, code)
    opened.exports.make(town.EDITOR, [code], "exhibition")
    opened.excerpts.choose(town.EDITOR, "TW-05.1", "After that nobody on the Quay spoke to us.", "exhibition")
    aside = opened.excerpts.choose(town.EDITOR, "TW-01.1", "The Sallow came up through the drain first", "exhibition")
    opened.excerpts.set_aside(town.EDITOR, aside)
    opened.consent.pause(town.KEEPER, "N-06", "telephoned")
    with serving(create_app(opened)) as port:
        yield port
    opened.close()


@pytest.fixture
def look(browser: Browser, looked_at: int) -> Iterator[Visitor]:
    """Visits to the archive that a module's tests share."""
    with ExitStack() as stack:
        yield _visits(browser, looked_at, stack)
