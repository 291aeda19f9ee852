"""Signing in: by password, by the link that works once, and how sessions end."""

from __future__ import annotations

import os
import stat

import pytest
from flask import Flask

from archive.app import Archive
from tests.webui.conftest import Enter, post, token_of
from tests.webui.town import KEEPER, PASSWORD, READER


def test_a_wrong_password_and_a_wrong_name_get_the_same_words(app: Flask) -> None:
    client = app.test_client()
    answers = [post(client, "/sign-in", "/sign-in", name=n, password="not the right one") for n in (KEEPER.name, "N-99")]
    assert [status for status, _ in answers] == [403, 403]
    told = [text.split('role="alert">')[1].split("</div>")[0] for _, text in answers]
    assert told[0] == told[1]


def test_failures_are_throttled_across_apps(archive: Archive, app: Flask) -> None:
    """PITFALLS: throttling in memory forgets on restart. Five failures, then a new app: still closed, password right or not."""
    from webui.app import create_app

    client = app.test_client()
    for _ in range(5):
        post(client, "/sign-in", "/sign-in", name=KEEPER.name, password="not the right one")
    status, text = post(create_app(archive).test_client(), "/sign-in", "/sign-in", name=KEEPER.name, password=PASSWORD)
    assert status == 403
    assert "Wait" in text


@pytest.mark.parametrize("to", ["https://elsewhere.invalid/", "//elsewhere.invalid", "/\\elsewhere.invalid", "javascript:x", "\n/find"])
def test_after_signing_in_nobody_is_sent_elsewhere(app: Flask, to: str) -> None:
    client = app.test_client()
    token = token_of(client.get("/sign-in").text)
    answer = client.post("/sign-in", data={"csrf_token": token, "name": KEEPER.name, "password": PASSWORD, "to": to})
    assert answer.headers["Location"] == "/find"


def test_after_signing_in_one_comes_to_the_page_asked_for(app: Flask) -> None:
    client = app.test_client()
    page = client.get("/recordings/TW-01.1", follow_redirects=True)
    answer = client.post(
        "/sign-in",
        data={"csrf_token": token_of(page.text), "name": KEEPER.name, "password": PASSWORD, "to": "/recordings/TW-01.1"},
    )
    assert answer.headers["Location"] == "/recordings/TW-01.1"


def test_the_link_works_once_and_looking_at_it_does_not_use_it_up(app: Flask, archive: Archive) -> None:
    token = archive.accounts.once_link()
    for _ in range(3):  # a preview, a prefetch, the browser
        assert app.test_client().get(f"/enter/{token}").status_code == 200
    client = app.test_client()
    page = client.get(f"/enter/{token}")
    answer = client.post("/enter", data={"csrf_token": token_of(page.text), "token": token})
    assert answer.status_code == 303
    assert client.get("/upkeep/record").status_code == 200
    second = app.test_client()
    page = second.get(f"/enter/{token}")
    assert second.post("/enter", data={"csrf_token": token_of(page.text), "token": token}).status_code == 403
    assert second.get("/find").status_code == 303


def test_the_session_cookie(app: Flask) -> None:
    for base, secure in (("http://localhost", False), ("https://localhost", True)):
        cookie = app.test_client().get("/sign-in", base_url=base).headers["Set-Cookie"]
        assert "HttpOnly" in cookie
        assert "SameSite=Lax" in cookie
        assert ("Secure" in cookie) is secure


def test_signing_out_ends_the_session(enter: Enter) -> None:
    client = enter(READER.name)
    status, text = post(client, "/find", "/sign-out")
    assert status == 200
    assert "signed out" in text
    assert client.get("/find").status_code == 303


def test_a_changed_session_key_ends_every_session(archive: Archive, enter: Enter) -> None:
    from sqlalchemy import text

    client, other = enter(READER.name), enter(KEEPER.name)
    with archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE account SET session_key = 'another' WHERE name = :name"), {"name": READER.name})
    assert client.get("/find").status_code == 303
    assert other.get("/find").status_code == 200


def test_a_forged_session_opens_nothing(app: Flask, archive: Archive) -> None:
    from flask.sessions import SecureCookieSessionInterface

    other = Flask("other")
    other.secret_key = b"guessed"
    signer = SecureCookieSessionInterface().get_signing_serializer(other)
    assert signer is not None
    account = archive.accounts.by_id(1)
    assert account is not None
    client = app.test_client()
    client.set_cookie("told_here", signer.dumps({"_user_id": f"1:{account.session_key}", "_fresh": True}))
    assert client.get("/find").status_code == 303


def test_the_key_is_kept_for_this_user_alone(archive: Archive, app: Flask) -> None:
    path = archive.folder / ".web-key"
    assert stat.S_IMODE(os.stat(path).st_mode) == 0o600
    assert app.secret_key == path.read_bytes()
    assert len(path.read_bytes()) >= 32


@pytest.mark.parametrize("host", ["elsewhere.invalid", "127.0.0.1.elsewhere.invalid", "10.0.0.1"])
def test_another_host_name_is_refused(app: Flask, host: str) -> None:
    """A page elsewhere may point its own name at this machine; the pages answer only to theirs."""
    answer = app.test_client().get("/sign-in", headers={"Host": host})
    assert answer.status_code == 400
    assert "<form" not in answer.text
