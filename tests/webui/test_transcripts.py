"""A transcript as a file, on a recording's page: sent, told once, written out; who may, and how much may be sent."""

from __future__ import annotations

import io
from collections.abc import Callable

import docx
import pytest
from flask import Flask
from flask.testing import FlaskClient

from archive.app import Archive
from tests import cast
from tests.webui.conftest import token_of
from webui import uploads
from webui.app import create_app

PAGE = "/recordings/IV-21.1"


@pytest.fixture
def app(cast_archive: Archive) -> Flask:
    return create_app(cast_archive)


@pytest.fixture
def enter(app: Flask) -> Callable[[cast.Viewer], FlaskClient]:
    def come_in(viewer: cast.Viewer) -> FlaskClient:
        client = app.test_client()
        token = token_of(client.get("/sign-in").text)
        assert client.post("/sign-in", data={"csrf_token": token, "name": viewer.name, "password": cast.PASSWORD}).status_code == 303
        return client

    return come_in


def send(client: FlaskClient, data: bytes, **fields: str) -> tuple[int, str]:
    token = token_of(client.get(PAGE).text)
    form = {"csrf_token": token, **fields, "file": (io.BytesIO(data), "typed by Lena Fosse.txt")}
    answer = client.post(f"{PAGE}/transcript", data=form, content_type="multipart/form-data")
    answer.request.environ["wsgi.input"].close()  # a temporary file of the test client
    return answer.status_code, answer.text


def test_a_typed_transcript_is_taken_in_and_what_does_not_fit_is_shown_once(enter: Callable[[cast.Viewer], FlaskClient]) -> None:
    client = enter(cast.EDITOR)
    words = cast.QUOTES["N-21"].split()
    words[6:8] = ["past", "Größe"]  # not heard so: “Net Row in”
    typed = "Mrs Bell: " + " ".join(words[:10]) + " surely never\nMrs Bell: " + " ".join(words[10:])
    status, page = send(client, typed.encode("cp1252"))
    assert status == 200 and "is taken in" in page
    assert "Windows-1252" in page and "Mrs Bell" in page and "surely never" in page and "typed, not heard" in page
    assert "Fosse" not in page, "the name of the file is nobody's business"
    assert "Größe" in client.get(PAGE).text and "taken in" not in client.get(PAGE).text
    status, page = send(client, typed.encode("cp1252"), speakers="Mrs Bell = N-21\n")
    assert "no speaker" not in page
    assert "cannot be understood" in send(client, b"x: y", speakers="Mrs Bell")[1]


@pytest.mark.parametrize(("data", "words"), [(b"", "no words"), (b"%PDF-1.4", "PDF"), (b"PK\x03\x04x", "no DOCX"), (b"Mrs Bell: Nothing like it at all", "hardly what is said")])
def test_what_is_not_taken_is_said(enter: Callable[[cast.Viewer], FlaskClient], data: bytes, words: str) -> None:
    status, page = send(enter(cast.EDITOR), data)
    assert status == 400 and words in page and "Nothing was changed" in page


def test_readers_send_nothing_and_nobody_sends_too_much(enter: Callable[[cast.Viewer], FlaskClient], monkeypatch: pytest.MonkeyPatch) -> None:
    reader = enter(cast.READER)
    assert "Take in a transcript" not in reader.get(PAGE).text and "Write it out" in reader.get(PAGE).text
    assert send(reader, b"x: y")[0] == 403
    monkeypatch.setitem(uploads.MOST, "transcripts.read", 10_000)
    assert send(enter(cast.EDITOR), b"word " * 4000)[0] == 413


def test_it_is_written_out_as_a_file_under_its_code(enter: Callable[[cast.Viewer], FlaskClient]) -> None:
    client = enter(cast.READER)
    token = token_of(client.get(PAGE).text)
    answer = client.post(f"{PAGE}/transcript/written", data={"csrf_token": token, "form": "docx"})
    assert answer.headers["Content-Disposition"] == 'attachment; filename="IV-21.1.docx"'
    text = "\n".join(p.text for p in docx.Document(io.BytesIO(answer.get_data())).paragraphs)
    assert "[name withheld]" in text and "Brine" not in text
    assert client.post(f"{PAGE}/transcript/written", data={"csrf_token": token, "form": "exe"}).status_code == 404
