"""The town's archive, made once a session, and a fresh copy of it for each test."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from archive.app import Archive
from tests.conftest import Once
from tests.webui import town
from webui.app import create_app

Enter = Callable[[str], FlaskClient]


@pytest.fixture(scope="session")
def made(once: Once) -> Path:
    """Folder of the town's archive; never changed by a test."""
    return once("town", lambda folder: town.build(folder).close())


@pytest.fixture
def archive(made: Path, tmp_path: Path) -> Iterator[Archive]:
    """A copy of the town's archive that a test may change."""
    opened = town.copy_of(made, tmp_path / "archive")
    yield opened
    opened.close()


@pytest.fixture
def app(archive: Archive) -> Flask:
    """The pages of it."""
    return create_app(archive)


def token_of(page: str) -> str:
    """The CSRF token of a page."""
    found = re.search(r'name="csrf_token" value="([^"]+)"', page)
    assert found is not None, "the page has no form"
    return found[1]


@pytest.fixture
def enter(app: Flask) -> Enter:
    """Sign in by name and password, as a browser does; returns a client whose `post_form` carries the token."""

    def come_in(name: str) -> FlaskClient:
        client = app.test_client()
        token = token_of(client.get("/sign-in").text)
        answer = client.post("/sign-in", data={"csrf_token": token, "name": name, "password": town.PASSWORD})
        assert answer.status_code == 303, answer.text
        return client

    return come_in


def post(client: FlaskClient, page: str, to: str, **fields: str) -> tuple[int, str]:
    """Load `page`, then post its token and `fields` to `to`; redirects are followed. Returns (status, text)."""
    token = token_of(client.get(page).text)
    answer = client.post(to, data={"csrf_token": token, **fields}, follow_redirects=True)
    return answer.status_code, answer.text
