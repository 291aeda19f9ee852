"""Headers on every answer, and error pages in the house's words."""

from __future__ import annotations

import logging

import pytest
from flask import Flask

from archive.app import Archive
from tests.webui.conftest import Enter
from tests.webui.town import KEEPER, READER

PAGES = ["/find", "/recordings", "/recordings/TW-01.1", "/people", "/people/N-01", "/exhibition", "/upkeep", "/recordings/none"]


def test_policy_on_every_page(enter: Enter) -> None:
    client = enter(KEEPER.name)
    for path in [*PAGES, "/sign-in", "/static/css/house.css", "/recordings/TW-01.1/sound/0-1000.wav"]:
        with client.get(path) as answer:
            headers = answer.headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'self'" in policy and "frame-ancestors 'none'" in policy, path
        assert "unsafe" not in policy and "data:" not in policy, path
        assert headers["X-Content-Type-Options"] == "nosniff", path
        assert headers["Referrer-Policy"] == "no-referrer", path


def test_nothing_that_holds_words_or_sound_is_kept_by_the_browser(enter: Enter) -> None:
    client = enter(KEEPER.name)
    for path in [*PAGES, "/recordings/TW-01.1/sound/0-1000.wav", "/upkeep/jobs.json"]:
        assert client.get(path).headers["Cache-Control"] == "no-store", path


def test_the_same_words_for_what_is_not_there_and_what_is_not_yours(enter: Enter) -> None:
    client = enter(READER.name)
    answer = client.get("/recordings/TW-99")
    assert answer.status_code == 404
    assert "There is no such recording." in answer.text
    assert "Traceback" not in answer.text


@pytest.mark.parametrize(("method", "path", "status"), [("GET", "/nowhere", 404), ("POST", "/recordings", 405), ("GET", "/recordings/TW-01.1/sound/9-x.wav", 404)])
def test_refusals_of_the_framework_in_our_words(enter: Enter, method: str, path: str, status: int) -> None:
    answer = enter(KEEPER.name).open(path, method=method)
    assert answer.status_code == status
    assert "Werkzeug" not in answer.text and "requested URL" not in answer.text


def test_an_unforeseen_error_tells_nothing_and_logs_no_words(
    app: Flask, archive: Archive, enter: Enter, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    client = enter(KEEPER.name)

    def burst(*_: object) -> None:
        raise RuntimeError("Maud Ellery said this")

    monkeypatch.setattr(archive.recordings, "list", burst)
    with caplog.at_level(logging.ERROR):
        answer = client.get("/recordings")
    assert answer.status_code == 500
    assert "it is not your doing" in answer.text
    assert "RuntimeError" in caplog.text and "recordings.all_of_them" in caplog.text
    for text in (answer.text, caplog.text):
        assert "Ellery" not in text


def test_a_body_that_is_too_large(enter: Enter) -> None:
    answer = enter(KEEPER.name).post("/find", data={"words": "x" * 3_000_000})
    assert answer.status_code == 413
