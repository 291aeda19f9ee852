"""A reading by somebody else on the Exhibition page: sent, listened to, dropped; where speech lies meanwhile; how much may be sent."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
import soundfile
from flask import Flask
from flask.testing import FlaskClient

from archive.app import Archive
from archive.domain import reasons as say
from archive.domain.values import VoiceWish
from tests import cast
from tests.services.test_voices import SAMPLE, wishes
from tests.webui.conftest import token_of
from webui import uploads
from webui.app import create_app


@pytest.fixture
def app(cast_archive: Archive) -> Flask:
    return create_app(cast_archive)


@pytest.fixture
def client(app: Flask, cast_archive: Archive) -> FlaskClient:
    client = app.test_client()
    token = token_of(client.get("/sign-in").text)
    assert client.post("/sign-in", data={"csrf_token": token, "name": "E-01", "password": cast.PASSWORD}).status_code == 303
    return client


@pytest.fixture
def code(cast_archive: Archive) -> str:
    return cast_archive.excerpts.choose(cast.EDITOR, cast.recording_of("N-26"), cast.QUOTES["N-26"], "exhibition")


@pytest.fixture
def spoken(tmp_path: Path) -> Path:
    sound, rate = soundfile.read(str(SAMPLE), frames=8 * soundfile.info(str(SAMPLE)).samplerate)
    soundfile.write(str(tmp_path / "read.wav"), sound, rate)
    return tmp_path / "read.wav"


def posted(client: FlaskClient, to: str, path: Path, **fields: str) -> tuple[int, str]:
    """Send a form with a file; returns (status, text of the page that answers)."""
    with open(path, "rb") as stream:
        answer = client.post(to, data={**fields, "file": (stream, "read.wav")}, content_type="multipart/form-data")
    answer.request.environ["wsgi.input"].close()  # a temporary file of the test client
    if answer.status_code == 303:
        answer = client.get(answer.headers["Location"])
    return answer.status_code, answer.text


def send(client: FlaskClient, code: str, path: Path, credit: str = "an actor") -> tuple[int, str]:
    token = token_of(client.get("/exhibition").text)
    return posted(client, f"/exhibition/{code}/reading", path, csrf_token=token, credit=credit)


def test_sent_heard_and_dropped(
    client: FlaskClient, cast_archive: Archive, code: str, spoken: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folders: list[str] = []
    real = tempfile.NamedTemporaryFile
    monkeypatch.setattr(uploads.tempfile, "NamedTemporaryFile", lambda mode, dir: folders.append(str(dir)) or real(mode, dir=dir))
    status, text = send(client, code, spoken)
    assert status == 200 and "Read by an actor." in text
    assert folders == [str(cast_archive.folder / ".staging")], "on the archive's own disk"
    assert not list((cast_archive.folder / ".staging").iterdir()), "and gone with the request"
    assert client.get(f"/exhibition/{code}/reading").data == spoken.read_bytes()
    part = client.get(f"/exhibition/{code}/reading", headers={"Range": "bytes=0-99"})
    assert part.status_code == 206 and len(part.data) == 100
    token = token_of(text)
    assert client.post(f"/exhibition/{code}/reading/drop", data={"csrf_token": token}).status_code == 303
    assert client.get(f"/exhibition/{code}/reading").status_code == 404


def test_what_is_refused_says_why(client: FlaskClient, cast_archive: Archive, code: str, spoken: Path, tmp_path: Path) -> None:
    status, text = send(client, code, spoken, "Walter Brine")
    assert status == 400 and "somebody on record" in text and "Brine" not in text
    token = token_of(client.get("/exhibition").text)
    assert client.post(f"/exhibition/{code}/reading", data={"csrf_token": token, "credit": "x"}).status_code == 400
    assert posted(client, f"/exhibition/{code}/reading", spoken, credit="x")[0] == 400, "no token, no change"
    cast_archive.consent.withdraw(cast.KEEPER, "N-26", use="re_voicing")
    status, text = send(client, code, spoken)
    assert status == 403 and "re-voicing" in text


def test_only_a_reading_may_be_large(client: FlaskClient, code: str, tmp_path: Path) -> None:
    """Elsewhere 2 MB are too much; here the limit is 60 MB."""
    large = tmp_path / "large.wav"
    large.write_bytes(b"RIFF" + bytes(3 * 1024 * 1024))
    assert send(client, code, large)[0] == 415, "read to its end, and no sound"
    token = token_of(client.get("/exhibition").text)
    assert posted(client, "/exhibition/export", large, csrf_token=token)[0] == 413
    assert uploads.MOST_READING_BYTES == 60 * 1024 * 1024


def test_the_page_says_what_a_disguise_does_not_protect_against(client: FlaskClient, cast_archive: Archive) -> None:
    wishes(cast_archive, "N-21", VoiceWish.DISGUISED)
    cast_archive.excerpts.choose(cast.EDITOR, cast.recording_of("N-21"), cast.QUOTES["N-21"], "exhibition")
    page = client.get("/exhibition").text
    assert say.DISGUISE_CAUTION in page and "Read by somebody else" in page and "anonym" not in page.lower()
